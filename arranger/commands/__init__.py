"""Carry out what each command asks: a file each, whose functions take the typed options and return an exit status."""
