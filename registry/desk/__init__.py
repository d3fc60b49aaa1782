"""What looks at everything: Today, search, the reports."""
