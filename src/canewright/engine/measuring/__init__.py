"""Which reading more would tell most, whether already taken somewhere or never."""
