"""Commands of oversight."""
