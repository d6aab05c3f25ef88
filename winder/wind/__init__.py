"""The wind under way: what the host believes of it. No I/O, no clock, no thread."""
