"""The acts: their facts by kind of chain, and `table`, one row each for all else that is known of them."""
