"""Set what is preferred, as numbers with their reasons: everything that could be argued about is here.

Weights are thousandths of a semitone of hand movement, so that sums are whole numbers and ties are real. Where no
source is named, a value is common practice, no source.
"""

from fractions import Fraction
from typing import Literal, NamedTuple

from arranger.song.model import Texture

Octaves = Literal["phrase", "every", "none"]

# Where the middle of the hand likes to be (MIDI), by how loud it is: a soft hand lies lower, a loud one cuts through
# from higher up. Softer than p is played as p, louder than ff as ff; no dynamic as mf.
TARGETS = {"ppp": 62, "pp": 62, "p": 62, "mp": 63, "mf": 64, "f": 66, "ff": 67, "fff": 67, "sfz": 66}
TARGET = TARGETS["mf"]

# What the thumb on a black key adds to a change of chord, where other fingers play white ones: the hand has to go in
# among the black keys, which asks as much as a new key does. Models of fingering count the thumb on black as a cost of
# its own (Parncutt et al. 1997); how much against a semitone is judgement, no source.
THUMB_ON_BLACK = 500


class Clash(NamedTuple):
    """How often a melody sings a note a semitone from a suspended one, in thousandths of the chords.

    Measured over 502 lead sheets (19,682 chord changes) of the open data set OpenEWLD (Simonetta 2018,
    doi 10.5281/zenodo.4332855).
    """

    four: int
    two: int


CLASHES = {
    "I": Clash(500, 30),
    "IV": Clash(610, 30),
    "V": Clash(350, 20),
    "V7": Clash(290, 30),
    "vi": Clash(20, 660),
    "major": Clash(490, 30),
    "minor": Clash(40, 420),
}


class Taste(NamedTuple):
    """Ranges (MIDI numbers, semitones) and weights (thousandths) of everything that is worked out."""

    # The right hand.
    low: int = 53  # F3: below it, close voicings turn muddy and the left hand has no room
    high: int = 79  # G5: above it, the hand covers the singer
    moved_low: int = 52  # E3: how low the hand may come when the whole song is moved to another key
    span: int = 12  # an octave: the largest safe reach (nearly a third of women pianists cannot reach a ninth)
    notes: int = 3  # players strike four notes in 3.5 % of right-hand attacks in open data
    easy: bool = False  # triad shapes by name, one bass note
    arc: bool = True  # how full the keys play follows the song (`arc`); without it every section has the same hands
    fullest: Texture = "wide"  # the fullest texture that the player likes
    most_keys: int = 4  # in the right hand at the full textures: 3 for a hand that does not like octave frames
    one_key: int = 1500  # at the bare texture one key alone has to save a semitone and a half: two keep the harmony
    low_step: int = 20000  # in a rise: the top note falls from one bar to the next; or, each semitone that it climbs
    climb_most: int = 5  # over this from the first bar to the last: a fourth (judgement, no source)
    clear_of_left: int = 3  # semitones between the hands: a minor third keeps them apart

    movement: int = 1000  # the unit: one semitone of hand movement
    moved: int = 500  # a new key under a finger costs half a semitone more than the way to it
    register: int = 250  # a quarter for each semitone off the target: cures drift at 1.5 to 3 % more movement
    target_shift: int = 0  # semitones by which the player likes the hand higher
    target: int | None = None  # the middle that is liked (MIDI), for all dynamics; None: by dynamic
    doubled_leading_note: int = 2000  # two semitones: over it in the bass, the third sounds twice and sticks out

    # An inner line that leaves its finger: two semitones and a new key for each of its steps, so that it is kept even
    # where that is a semitone or two more each time; of a long one four steps count, for it has to turn back some time.
    line_step: int = 2500
    line_most: int = 10000

    # Small terms: each stays under half a semitone, so that they only choose among equals.
    wide_over: int = 10  # semitones: the relaxed reach of thumb and little finger (Parncutt et al. 1997, 1-5 MaxRel)
    wide: int = 100  # for each semitone over it
    muddy: int = 200  # the lowest notes closer than the published low-interval limits
    top_leap_over: int = 4  # semitones that the top note may go unnoticed: a major third
    top_leap: int = 40  # for each semitone over it; the ear follows the top note
    parallel: int = 120  # the hand goes the way of the bass; not counted where the bass leaps a fourth or more
    small_most: int = 450  # the most that one kind of small term may come to

    # The left hand.
    left_low: int = 38  # D2
    left_high: int = 59  # B3
    left_target: int = 47  # B2, by the median bass note of piano arrangements in open data (A2) and a bass player below
    left_register: int = 1000  # for each semitone off the target
    left_step_broken: int = 12000  # a step in the bass that is not played as a step
    left_octave_low: int = 33  # A1: octaves below it growl
    left_octaves: bool = True  # False for a left hand that does not like them
    left_shell_low: int = 48  # C3: root and seventh alone are clear from here up
    left_octave_beside: int = 40  # E2: beside a bass player, at the wide texture, no octave reaches lower

    # Suspensions. Costs above 0 speak against, below 0 for.
    suspensions: Fraction = Fraction(1, 6)  # of the printed chords at most; more is a mannerism
    suspensions_open_bars: int = 4  # at most one that is held over or left in so many bars; 0: no limit
    sus_any: int = 2000  # each has to earn its place: over the samples 12 % of heard chords (8 % in open pop data)
    sus_prepared: int = -1000  # the note is down already: nothing to find
    sus_colour: int = 500  # unprepared: a new sound out of nowhere
    sus_resolves: int = -1000  # tension and release inside the chord: the plain case of the teaching rule
    sus_held_over: int = -500  # the next chord takes the note in: it resolves without a move
    sus_left: int = 1500  # promises and does not keep
    sus_phrase_end: int = -500  # where a line of the song ends there is room to be heard
    sus_idiom: int = -750  # 2 on IV and I, 4 on V
    sus_clash: int = 6000  # where somebody sings: times the measured share of clashes
    sus_short_clash: Fraction = Fraction(1, 2)  # the share of that where it resolves before the bar is over
    sus_third_sung: int = -1000  # the tune comes to the third with the resolution, or after it: it asks for it
    sus_seconds: Fraction = Fraction(3, 2)  # a chord shorter than this has no time for two sounds
    sus_for_all: int = 1000  # the guitarist has to be told of it
    sus_guitar_beats: int = 2  # a 4 against a guitarist's third may last so many beats

    # The pad.
    split: int | None = None  # where the player's keyboard is split (MIDI), None where it is not

    # Octave fills.
    octaves: Octaves = "phrase"
    octave_bars: int = 4  # `phrase`: at most one in so many bars of a section
    octave_bars_more: int = 2  # the one more of the last refrain is so many bars from the others at least
    ballad_under: int = 90  # felt beats a minute under which lines by step are preferred: an enclosure sounds restless
    attack_seconds: Fraction = Fraction(1, 5)  # between two attacks, and
    attack_seconds_each: Fraction = Fraction(1, 50)  # for each semitone of travel,
    attack_seconds_least: Fraction = Fraction(1, 4)  # and never less than this
    one_note_over: int = 180  # felt beats a minute above which a fill is one note
    eighths_under: int = 100  # felt beats a minute below which two notes are eighths on the last beat

    def __hash__(self) -> int:  # a few fields tell tastes apart well enough; fractions are slow to hash
        return hash((self.low, self.high, self.notes, self.easy, self.movement, self.moved, self.register, self.arc))

    def target_for(self, level: str | None) -> int:
        """Return the liked middle of the hand (MIDI) for a dynamic's level."""
        if self.target is not None:
            return self.target
        return TARGETS.get(level or "", TARGET) + self.target_shift


DEFAULT = Taste()
