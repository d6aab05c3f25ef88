"""What a machine is: frozen facts, and the reader of the files that say them."""
