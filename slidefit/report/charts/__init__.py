"""Pictures, one a module: each takes a result and returns a matplotlib figure, and writes no file."""
