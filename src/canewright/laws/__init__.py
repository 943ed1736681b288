"""Published laws of unit operations: inversion, settling, washing, curing, combustion."""
