"""Files a user writes: the factory and its readings."""
