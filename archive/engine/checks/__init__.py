"""Checks of our own, one in each file: of the table, and of the table against the register."""
