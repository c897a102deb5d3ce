"""The rules, by group of the catalog: each a small pure function that yields what it found."""
