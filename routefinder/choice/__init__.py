"""Which route: orders, dominance, variety, preferences, robustness."""
