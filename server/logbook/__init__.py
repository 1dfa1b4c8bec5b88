"""Use cases: the only place where the pure computation and the records meet."""
