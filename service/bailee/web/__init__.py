"""Pages to read, and the app at `/sign/` with which people sign on their own device."""
