"""Which reading is wrong, what else it could be, and the shift without it."""
