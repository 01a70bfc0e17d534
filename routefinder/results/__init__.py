"""What comes back for a question: data only, nothing here shows itself."""
