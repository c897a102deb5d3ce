"""Read-only pages for a browser."""
