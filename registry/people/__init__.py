"""People, their standing, the bodies that decide, and inductions."""
