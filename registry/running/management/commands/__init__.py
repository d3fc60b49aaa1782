"""Commands of this slice."""
