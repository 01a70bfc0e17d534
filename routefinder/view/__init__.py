"""How results look: sentences, pictures, pages, data; no arithmetic."""
