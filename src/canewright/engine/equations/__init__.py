"""The factory as equations: compiled, checked, closed at its usual point, simulated."""
