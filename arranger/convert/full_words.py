"""Find how much longer shortened words of songs are in full: chords may have been typed over the full ones."""

from __future__ import annotations

import re

# Letters that a word has more in full. English, since other languages shorten with the sign in the letter's place.
_WORDS = {
    "gonna": 3, "wanna": 2, "gotta": 1, "'til": 2, "til": 2, "'cause": 1, "cause": 2, "'em": 1, "em": 2, "'neath": 1,
    "'tis": 1, "'twas": 2, "'twill": 2, "'bout": 0, "'fore": 1, "'stead": 2, "'nother": 1, "o'the": 1, "i'": 1,
    "wi'": 2, "y'all": 2, "c'mon": 2, "let's": 1, "can't": 2, "won't": 3, "thru": 3, "tho'": 2, "tho": 3,
}  # fmt: skip
# What is joined to the word before it: I am, you are, it is, we will, they have, do not.
_JOINED = re.compile(r"(?:i(?=')|[a-z]{2,})(?P<tail>'m|'re|'ll|'ve|'d|n't)")
_IS = re.compile(r"(?:it|that|he|she|there|here|what|who|where|how)'s")
_MORE = {"'m": 1, "'re": 1, "'ll": 2, "'ve": 2, "'d": 3, "n't": 1}


def letters_more(word: str) -> int:
    """Return by how many columns a word was longer if it was typed in full at first; 0 for most.

    >>> letters_more("gonna"), letters_more("I'm,"), letters_more("lantern")
    (3, 1, 0)
    """
    bare = word.strip().strip(',.;:!?"()').casefold().replace("’", "'").replace("‘", "'")
    if bare in _WORDS:
        return _WORDS[bare]
    joined = _JOINED.fullmatch(bare)
    return _MORE[joined["tail"]] if joined is not None else 1 if _IS.fullmatch(bare) else 0
