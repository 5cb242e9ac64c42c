"""Numbers read from micrographs, sound and traces."""
