"""What stands on pages of any kind, before anything has a place."""
