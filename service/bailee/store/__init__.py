"""The only SQL: rows never leave this floor."""
