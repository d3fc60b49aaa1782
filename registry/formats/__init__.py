"""How days and numbers are written, for each language in which we say it ourselves."""
