"""What really happened, in SQLite, and what follows from it."""
