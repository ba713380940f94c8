"""Define music alone: pitches, intervals, keys, chord qualities and chords. Knows no text file and no page."""
