"""The design page and its API: how many, who gets what, when to look; nothing is written."""
