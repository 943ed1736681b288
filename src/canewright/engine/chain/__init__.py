"""Shifts chained into a season: carried stocks and biases, running totals, the way back."""
