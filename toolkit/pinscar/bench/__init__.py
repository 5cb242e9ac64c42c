"""What is done at the bench: a new campaign, the run sheet, gathered readings, check, doctor."""
