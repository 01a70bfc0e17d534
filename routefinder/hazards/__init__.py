"""What is dangerous: points, mixtures, labels, what meets what, vessels, cautions."""
