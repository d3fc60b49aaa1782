"""Photographs of marks: drawn anew on the way in, and kept by the digest of their bytes."""
