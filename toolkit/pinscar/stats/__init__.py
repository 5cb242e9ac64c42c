"""Statistics: intervals, censoring, comparisons, precision, control, planning."""
