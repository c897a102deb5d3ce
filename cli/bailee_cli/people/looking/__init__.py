"""What everyone may look at: things, findings, and what waits."""
