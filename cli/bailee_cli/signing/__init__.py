"""From what a person typed to what the device signed: scans, duplicates, which entry is meant, the outbox."""
