"""What a route comes to: one measure a file, read off its amounts."""
