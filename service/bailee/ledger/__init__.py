"""Bytes, hashes, proofs and checkpoints. Standard library only."""
