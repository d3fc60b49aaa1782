"""Comparing: tests that hold for few animals, animals that are alike, and tanks as units."""
