"""Evaluate pin-on-ring lubricant tests, from the campaign folder to the report."""

__version__ = "0.1.0"
