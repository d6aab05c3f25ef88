"""The laboratory: campaigns, coverage, lay trials and a host that says stop, on simulated machines."""
