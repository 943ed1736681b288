"""canewright: one set of equations for a whole cane sugar factory."""

__version__ = "0.1.0"
