"""Control figures and ledgers of a solved factory."""
