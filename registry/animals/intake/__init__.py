"""Bringing in many animals from one file: what it may hold, reading it, and weighing each row."""
