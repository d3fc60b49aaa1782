"""Keeping the site: what is set, how it stands, backup and restore."""
