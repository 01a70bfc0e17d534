"""The library: where, read, checked, loaded, cached; what is regulated."""
