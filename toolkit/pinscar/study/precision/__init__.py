"""The precision study: repeatability and reproducibility of the method."""
