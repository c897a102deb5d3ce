"""The words of the trade, and what a set of statements means. Standard library only; no clock."""
