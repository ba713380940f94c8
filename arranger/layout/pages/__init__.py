"""Lay out kinds of pages: the player's part and the stage copy."""
