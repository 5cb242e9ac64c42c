"""The reading study: how well readers agree."""
