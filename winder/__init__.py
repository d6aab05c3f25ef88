"""A winding-machine controller and turn counter for small coils of fine enamelled wire."""

__version__ = "0.1.0"
