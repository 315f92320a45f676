"""The job log: entries that only grow, in one SQLite file."""
