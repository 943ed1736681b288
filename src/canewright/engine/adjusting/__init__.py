"""Readings adjusted to equations that must hold, and what is known afterwards."""
