"""The journal: one SQLite file, written by one thread, read by everybody."""
