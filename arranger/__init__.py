"""Turn a song's words and chords into a worked-out keyboard part.

The package is a pipeline of rooms; each takes a value and gives a value, and imports run one way:

    source, diagnostics, units < theory < song < harmony < layout < pdf < pipeline < cli
"""

__version__ = "0.1.0"
