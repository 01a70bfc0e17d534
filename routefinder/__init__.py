"""routefinder: routes from the shelf to a substance."""
