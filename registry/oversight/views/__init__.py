"""Pages of this slice."""
