"""The stage copy: one arrangement -> pages to play from, read at arm's length."""
