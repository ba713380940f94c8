"""Define how fast, how long and how high can be what a song states: beyond these a digit is wrong."""

SLOWEST, FASTEST = 20, 400  # beats a minute; beyond these a digit is wrong
MOST_FRETS = 11  # of a capo: at 12 the shapes sound in their own key again
MOST_BEATS = 24  # in a bar; longer meters are typing mistakes
