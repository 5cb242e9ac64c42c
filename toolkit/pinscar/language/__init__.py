"""Reports in another language: messages with holes, found again in finished text, and said anew."""
