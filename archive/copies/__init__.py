"""The copies of each version: made, read again in turn, and mended from one another."""
