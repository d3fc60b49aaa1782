"""Taxa, animals, groups, enclosures and restrictions: who lives here."""
