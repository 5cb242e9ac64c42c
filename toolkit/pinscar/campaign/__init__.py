"""A campaign folder on disk, read into checked tables in SI units."""
