"""Bailee: a custody ledger for air samples. Importing it starts nothing."""

__version__ = "0.1.0"
