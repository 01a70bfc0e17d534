"""The reaction graph: a question narrowed to what it can use, in arrays."""
