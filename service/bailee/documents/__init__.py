"""Papers and files: custody record, notice to occupants, table of samples, events for other systems."""
