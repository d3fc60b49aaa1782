"""Plain summaries with their evidence, and what changed in husbandry."""
