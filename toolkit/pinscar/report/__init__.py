"""From results to the HTML and PDF report."""
