"""What to wind: frozen facts, and the reader of the files that say them."""
