"""Stage 1, text to Song: `read` parses, builds and checks; `dump` is the stage's golden text; `transpose` changes the key."""
