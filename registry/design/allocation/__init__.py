"""Who gets what: every way to allocate units, from a stream that can be drawn again."""
