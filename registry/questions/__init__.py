"""Questions raised by staff, and their triage."""
