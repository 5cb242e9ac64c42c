"""One page over many reports."""
