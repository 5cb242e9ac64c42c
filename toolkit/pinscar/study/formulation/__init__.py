"""The formulation study: what each component does, how much is needed, and what to try next."""
