"""Solving: simulate, reconcile, explain."""
