"""The append-only record of every deed."""
