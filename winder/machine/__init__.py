"""What a machine is: frozen facts, and the reader of the files that say them."""

from winder.machine.reader import read_machine, read_machine_text

__all__ = ["read_machine", "read_machine_text"]
