"""Contact mechanics: SI floats in, SI floats out."""
