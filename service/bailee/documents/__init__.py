"""Papers and files: custody record, sheets of an envelope, notice, key card, tables, events."""
