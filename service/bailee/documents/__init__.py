"""The paper."""
