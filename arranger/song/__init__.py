"""Stage 1, text to Song: `read` parses, builds and checks; `dump` is the golden text; `transpose` changes the key."""
