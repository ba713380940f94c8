"""Define every size, gap, weight and grey of parts and stage copies, in points, each with its reason.

Type is reckoned from the distance at which it is read. A capital of the text face is 0.725 of its size high. ISO 9241-3
asks for capitals of 16 minutes of arc at least and prefers 20 to 22; the height is 6.283 x distance x minutes / 21600
(NUREG-0700, 1.3.1-4). The part stands on a keyboard: 60 cm from a seated player's eyes, 70 from a standing one's.
Greys follow WCAG 2.2 contrast on white paper: what must be read has 7:1 at least.
"""

from typing import NamedTuple

from arranger.layout.options import Hands
from arranger.units import mm

# The page. Music publishers' part guides ask for 15 to 19 mm at the sides; printers lose up to 6 mm.
SIDE = mm(15)
SIDE_FULL = mm(11)  # where rows take the full width: 533 points of A4, four bars of 130 and their numbers
TOP = mm(12)
BOTTOM = mm(11)

# Sizes of type.
CHORD = 16.0  # capitals 4.1 mm: 20 minutes at 70 cm
CHORD_RAISED = 11.5  # 16 minutes at 63 cm: still read, and clearly smaller than the root
CHORD_RISE = 4.6  # raised figures end a little above the capitals, as in print
WORDS = 12.0  # 16 minutes at 66 cm; with chords over them they are followed, not deciphered
WORDS_CLOSE = 11.2  # 16 minutes at 60 cm, the eyes of a seated player: where that saves a page
SECTION = 13.0  # found at a glance from the stand
MARGIN = 10.0  # facts are read once before the section is played: 16 minutes at 55 cm
OCTAVE = 12.0  # notes to be played, as large as the words
LETTERS = 13.0  # the right hand as letters: notes to be played, read at a glance
UNDER_HAND = 9.8  # the left hand, names of shapes, labels of octaves: 14 minutes at 60 cm
SMALL = 8.5  # the least that is printed at all: finger numbers have 12 minutes at 60 cm; they are looked up once
TITLE = 22.0
HEADER = 11.0  # tempo, start, roadmap: read before playing
FOOTER = 9.0
ENDING = 10.0
METER = 11.0

# Leadings: baseline to baseline, or the height of a row.
WORDS_LEADING = 1.25  # x the size of words: rows of verses stay apart
UNDER_INDENT = 0.5  # x the size: the second line of a bar's words is set in, as lines that run on are in print
VERSES_APART = 0.1  # x the size: more room between verses where words stand on two lines
MARGIN_LEADING = 12.0
HEADER_LEADING = 14.5

# Greys (0 black, 1 white).
QUIET_GREY = 0.33  # about #545454: 7.6:1 on white
LINE_GREY = 0.45  # barlines and key outlines guide the eye; they are not read: 4.8:1
BLACK_KEY_TINT = 0.84  # light enough that a black disc shows on it, and on a photocopy of it
BLACK_KEY_EDGE = 0.25

# Widths of lines: stave lines are printed 0.1 to 0.4 mm thick, and errors double with the thick ones (Wilkins & Kiff).
HAIR = 0.5
BARLINE = 0.7
THICK = 2.2  # the heavy line of a repeat sign
TIE = 1.0
STROKE = 2.2  # a moved note's stroke where it is widest

# The margin column: section names and facts; the gutter beside it has bar numbers and the numbers of verses.
COLUMN = mm(26)
GUTTER = 15.0

# The hand row.
KEY_WIDTHS = (7.0, 6.2, 5.4, 4.8)  # of a white key; the widest that keeps the section's rows on one line each
KEY_HEIGHT = 29.0
KEY_HEIGHT_CLOSE = 24.0  # where that saves a page: white discs still lie clear of the black keys
KEY_HEIGHT_LEAST = 21.0  # discs on white keys and black ones still lie apart
# Of the sizes of staves in print, 7 mm is that of parts, 6.5 mm that of piano and vocal scores, 6 mm the least that is
# played from (common practice, no source).
STAFF_CLOSE, STAFF_LEAST = 6.5 / 7, 6.0 / 7
KEYS_AT_LEAST = 8  # white keys shown: both groups of black keys, without which no place can be told
KEYS_AT_MOST = 13  # white keys of a picture that a whole section shares; over it each line has its own stretch
MIDDLE_C = 60
MIDDLE_C_WITHIN = 2  # white keys that may be added to show middle C

# Gaps.
CHORD_GAP = 5.0  # between chord symbols
WORD_GAP = 4.0  # between words that stand under two chords: a word space of the words' size
PICTURE_GAP = 5.0
NOTE_GAP = 3.5
BAR_PAD = 4.0  # after a barline, before what the bar begins with
BAR_END = BAR_PAD  # after what a bar ends with, before the barline
REPEAT_PAD = 7.0  # more room where dots stand
DOUBLE_GAP = 2.0  # between the lines of a double bar
DOUBLE_PAD = 1.0  # more room before it: what stands there keeps 1.5 clear of it in the closest gaps
FINAL_PAD = 3.8  # where the song ends: the heavy line and the gap before it
ROW_GAP = 2.5  # between the rows of a line
PENCIL = mm(5)  # room for a pencil under each line
PENCIL_LEAST = mm(3)  # a word can still be written: where that saves a page
SECTION_GAP = 6.0
SECTION_GAP_CLOSE = 3.0  # beside the pencil's room: where that saves a page
SPREAD = 7.0  # by which lines move apart at most on a page with room: half the pencil's room again
HEADER_GAP = 10.0

BARS_IN_FULL = 4  # bars that fill a line: a row with fewer is not stretched over it
SPARE = 1.12  # the least a line that is not full is stretched, so that its words do not touch


class Sizes(NamedTuple):
    """The sizes of type on lines of music beside their words (pt), and how far raised figures are raised.

    `manner`: words at a chord. `small`: what stands under a hand, labels of fills, octaves of notes. `number`: of bars.
    """

    chord: float = CHORD
    raised: float = CHORD_RAISED
    rise: float = CHORD_RISE
    manner: float = MARGIN
    octave: float = OCTAVE
    letters: float = LETTERS
    small: float = UNDER_HAND
    number: float = SMALL
    ending: float = ENDING
    meter: float = METER


PART_SIZES = Sizes()
# The least: capitals of chords have 20 minutes of arc at 60 cm, raised figures 16, octaves and letters 14 and more.
LEAST_SIZES = Sizes(chord=14.0, raised=11.2, rise=3.6, octave=10.0, letters=11.0)


class Gaps(NamedTuple):
    """Gaps in a line (pt): inside barlines, between chords, words, pictures."""

    bar: float
    chords: float
    words: float
    pictures: float


GAPS = Gaps(BAR_PAD, CHORD_GAP, WORD_GAP, PICTURE_GAP)
# A row that is a little too wide gets these before its words are set smaller: a word space is 3 pt at the least size.
GAPS_CLOSE = Gaps(2.5, 4.0, 3.0, 3.5)


class Look(NamedTuple):
    """How pages look throughout: how hands are shown; the size of words, the height of keyboards, gaps (pt); sizes.

    `chords_first`: chords stand over the hands, not under them. `beside`: hands stand right of their chords, the left
    hand's note over the chord; those of a section that is too wide for that stand over their chords, or where `mixed`,
    those of its wide rows. `over`: what is said of a section stands in a line over its first row, not in a column
    beside it. `staff`: how large staves are, of 7 mm. `pencil`: the room under each line. `least_words`: the size down
    to which words of a row may go, with closer gaps, before the row is broken; None where none may. `halved`: words of
    a bar that are wider than its share of the line stand on two lines. `joined`: two rows stand in one line where both
    fit.
    """

    hands: Hands = "keyboard"
    words: float = WORDS
    keyboard: float = KEY_HEIGHT
    staff: float = 1.0
    section_gap: float = SECTION_GAP
    sizes: Sizes = PART_SIZES
    chords_first: bool = False
    beside: bool = False
    mixed: bool = False
    over: bool = False
    pencil: float = PENCIL
    least_words: float | None = None
    halved: bool = False
    joined: bool = False
    gaps: Gaps = GAPS

    @property
    def size(self) -> tuple[float, float, float]:
        """What makes it larger than another."""
        return self.words, self.keyboard, self.sizes.chord

    @property
    def side(self) -> float:
        """The margin at both sides of the page."""
        return SIDE_FULL if self.over else SIDE


DEFAULT_LOOK = Look()


def looks(hands: Hands) -> tuple[Look, ...]:
    """Return the looks that a part may have, the largest first; in the last all that is read has its least size.

    Last of all are those in which hands stand both ways in one section: only where that saves a page.
    """
    large = Look(hands, least_words=WORDS_CLOSE)
    close = large._replace(
        words=WORDS_CLOSE, keyboard=KEY_HEIGHT_CLOSE, staff=STAFF_CLOSE, section_gap=SECTION_GAP_CLOSE
    )
    least = close._replace(
        keyboard=KEY_HEIGHT_LEAST, staff=STAFF_LEAST, sizes=LEAST_SIZES, pencil=PENCIL_LEAST, section_gap=0.0
    )
    ways = [(False, False), (False, True)] if hands == "staff" else [(False, False), (True, False), (True, True)]
    every = [look._replace(beside=beside, joined=joined) for look in (large, close, least) for beside, joined in ways]
    every += [look._replace(mixed=True) for look in every[-2:] if look.beside]
    return tuple(look._replace(over=over) for look in every for over in (False, True))


# A copy is set at one size of type, that of the part's words, and then enlarged as a whole: widths of type grow as its
# size does, so the search for the largest size that fits only has to try pages of other sizes. Nothing that is read is
# smaller than that one size; what must be found at a glance is larger.
UNIT = WORDS  # the one size that everything is set at, before it is enlarged
STAGE_CHORD = 20.0  # the first thing to see: its capitals are half as high again as those of the hand under it
NAME = 14.0  # of a section, in a box: found from the roadmap without reading the chords
STAGE_TITLE = 15.0
ROADMAP = 14.0  # read once before the song and looked up in it

# Raised figures end a little above the capitals, as in the part; all but chords is as large as the words.
STAGE_SIZES = Sizes(STAGE_CHORD, UNIT, 6.6, *[UNIT] * 7)
STAGE_LOOK = Look(hands="letters", section_gap=6.0, sizes=STAGE_SIZES, chords_first=True)

STAGE_GUTTER = 21.0  # before the first barline where verses or bars are numbered: two figures and a point
LINE_GAP = 5.0  # under each line of music: half a line of words, so that a chord belongs to what is under it
HEAD_GAP = 3.0  # between the name of a section and its first line
HEAD_BOTTOM = 4.0  # under the head
STAGE_FOOT_GAP = 5.0  # over the foot
LEFT_GAP = 6.0  # before the left hand, where it stands after the right one: half a letter more than a blank
PROMPT_GAP = 1.5  # over prompts: they are no third row of the hands
PIECE_GAP = 10.0  # between facts that stand in a row
BOX_PAD_X, BOX_PAD_Y = 4.0, 2.2  # of the box around a section's name
STAGE_SPREAD = 8.0  # by which lines of a section move apart at most on a page with room
BARS = 4  # in a line: phrases of four are counted without counting
BARS_AT_MOST = 5  # a row of five stays whole where it fits: it is four with a tag
PROMPT_WORDS, PROMPT_LETTERS = 3, 12  # a prompt has at least so many words and letters, where there are more

# Dark pages: each lightness of a light page has its own; all that is read has 7:1 at least (WCAG 2.2, 1.4.6). Pure
# white on black flares to eyes that are used to the dark, so both are drawn in a little.
NIGHT = 0.07
NIGHT_INKS = {0.0: 0.93, QUIET_GREY: 0.72, LINE_GREY: 0.55, 1.0: NIGHT}
