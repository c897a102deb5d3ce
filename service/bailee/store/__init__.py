"""The SQL floor: rows never leave it."""
