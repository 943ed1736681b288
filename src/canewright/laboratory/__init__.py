"""Readings: what an instrument or an analyst would say of a state."""
