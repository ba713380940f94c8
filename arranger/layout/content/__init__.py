"""Gather what is to be printed of an arrangement, for the part or the stage copy, before anything has a place."""
