"""A campaign opened in a notebook."""
