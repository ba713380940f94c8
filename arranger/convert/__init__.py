"""Typed sheets, words chords in a line above words, made into songs. Takes text; gives text, and what was assumed."""
