"""From a question to its results: read, answered, compared; what would open more."""
