"""Studies with a report of their own, one package each."""
