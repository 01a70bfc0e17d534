"""What `import routefinder as rf` gives: the only room that both asks and shows."""
