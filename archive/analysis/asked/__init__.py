"""Analyses as people ask for them: a table, columns and options in; tables and tests out."""
