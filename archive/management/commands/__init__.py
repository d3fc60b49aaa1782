"""Commands of the archive, one a file."""
