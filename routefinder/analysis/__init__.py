"""Bench tests beside the balance: what each must read, what a reading means, one inference."""
