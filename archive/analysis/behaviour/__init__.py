"""Behaviour: shares of time, bouts, transitions, use of space, and the noise about it."""
