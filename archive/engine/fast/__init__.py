"""The fast way: a compiled kernel proves what is good, frictionless judges the rest.

Imported only where a table is checked (``archive.engine.way``), since numba is slow to load.
"""
