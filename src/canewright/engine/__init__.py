"""Solving: a folder a question, the general ones below; the order is in pyproject.toml."""
