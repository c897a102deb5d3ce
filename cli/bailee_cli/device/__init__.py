"""What a device remembers (key, profile, what it signed and read, the newest checkpoint), and how it asks."""
