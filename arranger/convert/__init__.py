"""Make songs of typed sheets, with chords in a line above the words. Takes text; gives text, and what was assumed."""
