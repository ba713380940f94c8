"""Gather what stands on pages of any kind, before anything has a place."""
