"""One small index that the slices write to: SQLite's FTS5 or PostgreSQL's tsvector behind it."""
