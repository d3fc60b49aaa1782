"""Studies, projects, members and plans."""
