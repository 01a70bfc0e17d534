"""The command line over `api`."""
