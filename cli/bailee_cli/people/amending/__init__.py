"""What was signed before: corrected, stood by, allowed."""
