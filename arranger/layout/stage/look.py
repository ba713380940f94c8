"""Every size and gap of a stage copy, each with its reason.

A copy is set at one size of type, that of the part's words, and then enlarged as a whole: widths of type grow as its
size does, so the search for the largest size that fits only has to try pages of other sizes. Nothing that is read is
smaller than that one size; what must be found at a glance is larger.
"""

from __future__ import annotations

from arranger.layout import style
from arranger.layout.options import Look, Sizes

UNIT = style.WORDS  # the one size that everything is set at, before it is enlarged
CHORD = 20.0  # the first thing to see: its capitals are half as high again as those of the hand under it, and bold
NAME = 14.0  # of a section, in a box: found from the roadmap without reading the chords
TITLE = 15.0
ROADMAP = 14.0  # read once before the song and looked up in it

SIZES = Sizes(
    chord=CHORD,
    raised=UNIT,
    rise=6.6,  # raised figures end a little above the capitals, as in the part
    manner=UNIT,
    octave=UNIT,
    letters=UNIT,
    small=UNIT,
    ending=UNIT,
    meter=UNIT,
)
LOOK = Look(hands="letters", section_gap=6.0, sizes=SIZES)

GUTTER = 21.0  # before the first barline where verses or bars are numbered: two figures and a point
LINE_GAP = 5.0  # under each line of music: half a line of words, so that a chord belongs to what is under it
HEAD_GAP = 3.0  # between the name of a section and its first line
HEAD_BOTTOM = 4.0  # under the head
FOOT_GAP = 5.0  # over the foot
LEFT_GAP = 6.0  # before the left hand, where it stands after the right one: half a letter more than a blank
PROMPT_GAP = 1.5  # over prompts: they are no third row of the hands
PIECE_GAP = 10.0  # between facts that stand in a row
BOX_PAD_X, BOX_PAD_Y = 4.0, 2.2  # of the box around a section's name
SPREAD = 8.0  # by which lines of a section move apart at most on a page with room
BARS = 4  # in a line: phrases of four are counted without counting
BARS_AT_MOST = 5  # a row of five stays whole where it fits: it is four with a tag
PROMPT_WORDS, PROMPT_LETTERS = 3, 12  # a prompt has at least so many words and letters, where there are more

QUIET = style.QUIET_GREY  # prompts and the foot: 7.6:1 on white

# Dark pages: each lightness of a light page has its own; all that is read has 7:1 at least (WCAG 2.2, 1.4.6). Pure
# white on black flares to eyes that are used to the dark, so both are drawn in a little.
NIGHT = 0.07
NIGHT_INKS = {0.0: 0.93, style.QUIET_GREY: 0.72, style.LINE_GREY: 0.55, 1.0: NIGHT}
