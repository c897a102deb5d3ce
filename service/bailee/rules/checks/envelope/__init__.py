"""The envelope: packed, sealed, shipped in time, received as it was sealed."""
