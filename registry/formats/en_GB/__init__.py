"""How days and numbers are written in British English."""
