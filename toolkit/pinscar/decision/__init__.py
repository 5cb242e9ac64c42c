"""From checked runs to results, verdicts and findings."""
