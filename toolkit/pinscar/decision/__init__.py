"""Runs become responses, summaries, comparisons, verdicts and findings."""
