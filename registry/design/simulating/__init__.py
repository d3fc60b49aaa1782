"""Designs that have no formula: thousands of studies drawn and analysed as the plan says."""
