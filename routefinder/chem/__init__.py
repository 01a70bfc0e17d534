"""Pure chemistry: formulas, equations, heats, solutions; no files but formation data."""
