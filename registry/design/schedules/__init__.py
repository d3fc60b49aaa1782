"""When to look, at whom, in which order: schedules of observation and what they clash with."""
