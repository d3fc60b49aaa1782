"""How many units a design needs, one file for each family of outcomes."""
