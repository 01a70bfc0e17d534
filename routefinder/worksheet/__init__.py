"""The plan of a chosen route, as data."""
