"""Animals that are away at a partner, or gone: custody, dossiers, and news of them."""
