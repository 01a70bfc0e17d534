"""The exact k best routes, on numbers alone."""
