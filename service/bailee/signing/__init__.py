"""Is it genuine? Keys, signed statements, disclosures."""
