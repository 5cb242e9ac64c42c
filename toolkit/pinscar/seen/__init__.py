"""What the evidence looks like on a page: recordings, traces, pictures, cards."""
