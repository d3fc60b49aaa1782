"""Commands of the index."""
