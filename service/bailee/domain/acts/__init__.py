"""The acts, a module for each kind of chain: what may be signed, with which facts."""
