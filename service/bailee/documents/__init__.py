"""Papers and files: custody record, notice, key card, table of samples, events for other systems."""
