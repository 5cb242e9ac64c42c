"""The plan of a campaign: repeats, order and power."""
