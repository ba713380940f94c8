"""What the four textures ask of the hands: THE table of how full the keys play.

Bare, light, full and wide are the trade's plain words; how each is played is common practice, no source. That they
differ in how much is played, and hardly in how high, is measured: in POP909 (Wang et al., ISMIR 2020; 813 songs with
phrases labelled by Dai, Zhang and Dannenberg 2020) a refrain has 1.44 times the notes a bar of the first verse, 1.18
times the attacks, 8 more of velocity, and lies 0.6 semitones higher (medians).
"""

from fractions import Fraction
from typing import NamedTuple, get_args

from arranger.song.model import Texture

LEVELS: tuple[Texture, ...] = get_args(Texture)  # from the fewest keys to the most

# By the dynamic. mf is full where it is the loudest of a song that is softer elsewhere (`arc`).
TEXTURE_OF: dict[str, Texture] = {
    "ppp": "bare",
    "pp": "bare",
    "p": "light",
    "mp": "light",
    "mf": "light",
    "f": "full",
    "ff": "wide",
    "fff": "wide",
    "sfz": "full",
}


class RightHand(NamedTuple):
    """The keys of the right hand: the fewest, the most, and whether a triad stands in the frame of an octave."""

    least: int
    most: int
    frame: bool


RIGHT: dict[Texture, RightHand] = {
    "bare": RightHand(1, 2, frame=False),
    "light": RightHand(3, 3, frame=False),
    "full": RightHand(3, 4, frame=True),
    "wide": RightHand(3, 4, frame=True),
}

# How much higher the middle of the hand likes to be, in semitones, beside what the dynamic asks for. Frames are played
# at loud dynamics, which like the hand 3 semitones higher than mp does (`taste.TARGETS`): taken back, since pianists
# hardly go higher (see above); at `wide` most of it is left, to be heard over a whole band.
LIFT: dict[Texture, int] = {"bare": 0, "light": 0, "full": -3, "wide": -1}

# How the hands strike where the song does not say; `COMPOUND` in 6/8, 9/8 and 12/8. Measured against POP909 (see above)
# by `tests.harmony.arc_figures`: from verse to refrain many more notes, few more moments at which they begin. So where
# nobody plays bass the keys keep the beat at `light` too, as the piano does in those songs, and a refrain is that with
# octaves, frames and an eighth into the next bar; and beside a bass player a refrain is chords on every felt beat,
# never notes one by one, which would be fewer at a time than in the verse.
MANNERS: dict[Texture, str] = {"bare": "held", "light": "halves", "full": "quarters", "wide": "eighths"}
COMPOUND: dict[Texture, str] = {
    "bare": "held",
    "light": "dotted halves",
    "full": "dotted quarters",
    "wide": "eighths",
}
MANNERS_ALONE: dict[Texture, str] = {
    "bare": "held",
    "light": "quarters",
    "full": "quarters and eighths",
    "wide": "eighths",
}
COMPOUND_ALONE: dict[Texture, str] = {"bare": "held", "light": "broken", "full": "rolling", "wide": "rolling"}
STEPS = ("held", "halves", "quarters", "eighths")  # from one to the next a later verse is struck one step busier

# A hand of four keys in the frame of an octave, by an ordinary hand (judgement, no source): not oftener, not faster.
FRAME_STRUCK = Fraction(2, 5)  # seconds from one stroke to the next
FRAME_CHANGED = Fraction(4, 5)  # seconds from one chord to the next
