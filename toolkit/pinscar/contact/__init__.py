"""Contact mechanics: geometry, Hertz contact, wear, wear arrest, film, heat, chain."""
