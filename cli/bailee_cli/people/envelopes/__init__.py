"""An envelope: sealed, opened again, shipped."""
