"""The rules of a laboratory: what is requested of it, and its stores."""
