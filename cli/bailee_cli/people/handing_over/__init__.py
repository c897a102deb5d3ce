"""Samples from hand to hand: how they are secured, to whom they go, who takes them."""
