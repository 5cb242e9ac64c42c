"""Intervals, comparisons and censoring for small samples."""
