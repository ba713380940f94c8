"""What people type instead of the notation: one vocabulary, for checking songs and for converting sheets."""
