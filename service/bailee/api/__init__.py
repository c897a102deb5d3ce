"""HTTP in, JSON or problem+json out."""
