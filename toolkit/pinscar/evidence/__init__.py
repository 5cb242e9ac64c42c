"""Numbers out of pictures, sound and traces, with an uncertainty or a reason to refuse."""
