"""A folder on disk becomes checked tables in SI units; every problem is collected, none is guessed away."""
