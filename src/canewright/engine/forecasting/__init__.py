"""What if: the factory as found with something changed, and how sure the difference is."""
