"""PURE: a dictionary beside the one before it, mappings between the two, and cohorts pooled."""
