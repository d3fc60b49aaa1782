"""Trials: growth, feed, hatching, time to an event, warmth and response to a dose."""
