"""The language between the host and the board that counts: definitions, frames, both ends.

Standard library only; this package never imports ``winder``.
"""
