"""Opens ports, drives the one loop, keeps the journal: what commands and screens talk to."""
