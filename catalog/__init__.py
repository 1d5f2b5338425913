"""Records, database and picture store, and the intake that joins them to `vision`."""
