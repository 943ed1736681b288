"""Sparse derivatives and the factorisations that solve with them."""
