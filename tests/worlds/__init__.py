"""Ready states, built by acting; never by writing a state."""
