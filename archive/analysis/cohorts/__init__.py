"""Cohorts together: what each found, and what they say as one."""
