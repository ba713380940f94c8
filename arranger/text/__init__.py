"""Hold texts with places in them, the messages about them as data, and what makes text safe for a terminal."""
