"""Other forms of a song and of its arrangement, each a file."""
