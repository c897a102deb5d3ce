"""The acts: a module for each kind of chain has their facts, `table` all else that is known of each."""
