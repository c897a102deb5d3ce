"""What a device remembers: its key and profile, what it signed, what it read, the newest checkpoint it checked; and how it asks the service."""
