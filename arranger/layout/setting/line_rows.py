"""Stack the rows of a line of music: what stands over the hands, the hands, the chords, the words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from arranger.layout import style
from arranger.layout.content.model import BarContent, Column, Picture, Rows, Words
from arranger.layout.model import Face
from arranger.layout.setting.staves import SPACE
from arranger.layout.setting.staves_notes import extent
from arranger.layout.style import Look
from arranger.layout.text import Metrics, Run, rise_of

HAND = "dl♯"  # what letters of a hand are as high as
ORDINARY = "dl"  # letters as tall as words without capitals' accents have
TICK = 3.5  # the beats' ticks under an octave row
LEAD_ROW = 8.0  # under the octave row's rule: the arrow to the chord
LEAD_END = 6.5  # where that arrow ends
TIE_ROW = 5.0
MIDDLE_C_ROW = 4.0
TACET_ROW = 30.0
NOTE_OVER = 0.5  # between a chord and the left hand's note over it
UNDER_LEADING = 1.08  # of the size of words: the second line of a bar's words is nearer to the first than verses are


def rows_of(
    bars: Sequence[BarContent],
    pictures: Sequence[Sequence[Picture | None]],
    verses: Iterable[int],
    look: Look,
    metrics: Metrics,
    sign: float = 0.0,
) -> Rows:
    """Stack the rows that a line needs for its bars, the hands that each column shows, and some of the verses.

    Where chords come first, hands stand under them, and barlines end over the words. `sign` is the height of what
    stands in place of hands.
    """
    sizes = look.sizes
    columns = [column for bar in bars for column in bar.columns]
    hands = [picture for shown in pictures for picture in shown if picture is not None]
    fingers = treble = bass = chord = least = 0.0
    endings, hook, hook_rule, octave, rule, y = _rows_above(bars, columns, look, metrics)
    if any(picture.fingers for picture in hands):
        fingers = y + metrics.cap_height("regular", sizes.small)
        y = fingers + 1.5
    top = y
    if look.chords_first:
        chord = y + _chord_rise(columns, "H", sizes.chord, metrics) + 1.0
        y = chord + metrics.descent("bold", sizes.chord)
    keyboard = note = y
    if sign:
        note = y + sign
        y = note
    elif look.beside:
        ticks = MIDDLE_C_ROW if any(bar.uneven for bar in bars) else 0.0
        if any(bar.meter_shown for bar in bars):  # its figures stand one over the other
            least = 2 * metrics.cap_height("bold", sizes.meter)
        keyboard, note, chord, y = _rows_beside(columns, hands, (y, least), ticks, look, metrics)
    elif look.hands == "staff" and bars:
        above, between, below = (room * look.staff for room in extent(columns))
        top = y + above
        treble = top + 4 * SPACE * look.staff
        bass = treble + between + 4 * SPACE * look.staff
        y = bass + below
    elif look.hands == "letters" and any(picture.letters for picture in hands):
        face: Face = "regular" if look.chords_first else "bold"
        keyboard = y + metrics.rise(HAND, face, sizes.letters)
        y = keyboard + metrics.descent(face, sizes.letters)
    elif any(picture.marks for picture in hands):
        top = keyboard = y + TIE_ROW
        y = keyboard + look.keyboard + MIDDLE_C_ROW
    if any(picture.left or picture.shape for picture in hands) and not look.beside:
        note = y + metrics.rise(HAND, "regular", sizes.small)
        y = note + metrics.descent("regular", sizes.small)
    if not look.chords_first and not chord:
        chord = y + _chord_rise(columns, ORDINARY, sizes.chord, metrics) + style.ROW_GAP
        y = chord + metrics.descent("bold", sizes.chord)
    words, under, height = _verse_rows(columns, verses, y, look, metrics)
    over = (endings, octave, rule, fingers)
    bottom = y if look.chords_first else height
    return Rows(*over, keyboard, note, chord, words, top, bottom, hook, hook_rule, treble, bass, height, under)


def _rows_beside(
    columns: Sequence[Column],
    hands: Sequence[Picture],
    top: tuple[float, float],
    ticks: float,
    look: Look,
    metrics: Metrics,
) -> tuple[float, float, float, float]:
    """Return the rows of chords with hands beside them: the hands, the left hand's note, the chords; where they end.

    Keyboards stand on the baseline of the chords, or higher by the room for the ticks of beats. `top` is where the rows
    begin, and how far under that the chords stand at least.
    """
    (y, least), sizes, rise = top, look.sizes, _chord_rise(columns, ORDINARY, look.sizes.chord, metrics)
    drawn = any(picture.marks for picture in hands)
    if look.hands == "letters":
        chord = y + max(least, rise, metrics.rise(HAND, "bold", sizes.letters) if drawn else 0.0)
        return chord, chord, chord, chord + metrics.descent("bold", sizes.chord)
    over = NOTE_OVER + metrics.descent("regular", sizes.small)
    high = over + metrics.rise(HAND, "regular", sizes.small) if any(picture.left for picture in hands) else 0.0
    keyboard = y + TIE_ROW if drawn else y
    chord = max(y + least, y + high + rise, keyboard + look.keyboard + ticks if drawn else y)
    keyboard = chord - ticks - look.keyboard
    end = max(chord + metrics.descent("bold", sizes.chord), chord - ticks + MIDDLE_C_ROW if drawn else y)
    return keyboard, chord - rise - over, chord, end


def _rows_above(
    bars: Sequence[BarContent], columns: Sequence[Column], look: Look, metrics: Metrics
) -> tuple[float, float, float, float, float, float]:
    """Return the rows over the hands, and where they end: endings, notes to play with their rule, fills with theirs."""
    sizes = look.sizes
    y = endings = hook = hook_rule = octave = rule = 0.0
    if any(bar.in_ending or bar.repeat_times > 2 for bar in bars):
        endings = y + metrics.rise(ORDINARY, "bold", sizes.ending) + 1.5
        y = endings + style.ROW_GAP
    hooked = [run for column in columns if column.hook for run in column.hook.runs]
    filled = [run for column in columns if column.fill for run in column.fill.runs]
    if hooked:
        hook = y + note_rise(hooked, metrics, sizes.octave)
        hook_rule = hook + metrics.descent("bold", sizes.octave) + TICK - 0.5
        y = hook_rule + style.ROW_GAP + 1.5
    if filled:
        octave = y + note_rise(filled, metrics, sizes.octave)
        rule = octave + metrics.descent("bold", sizes.octave) + TICK - 0.5
        y = rule + (LEAD_END if look.chords_first else LEAD_ROW)
    return endings, hook, hook_rule, octave, rule, y


def _chord_rise(columns: Sequence[Column], least: str, size: float, metrics: Metrics) -> float:
    """Return how high the symbols rise over their baseline, at least as high as some letters."""
    symbols = [column.symbol for column in columns if column.symbol is not None]
    rises = [run.rise + metrics.rise(run.text, run.face, run.size) for s in symbols for run in (*s.runs, *s.manner)]
    return max((metrics.rise(least, "bold", size), *rises))


def _verse_rows(
    columns: Sequence[Column], verses: Iterable[int], y: float, look: Look, metrics: Metrics
) -> tuple[tuple[tuple[int, float], ...], tuple[tuple[int, float], ...], float]:
    """Return the baselines of the verses that have words here, under each other from y on, and where they end.

    The second value has those of the second lines of words that stand on two.
    """
    words: list[tuple[int, float]] = []
    under: list[tuple[int, float]] = []
    divided = any(sung and sung.under for column in columns for sung in column.words)
    for verse in verses:
        texts = [run for column in columns for run in verse_runs(column.words, verse)]
        if texts:
            rise = max(metrics.rise(run.text, run.face, run.size) for run in texts)
            below = metrics.descent("regular", look.words)
            least = metrics.rise(ORDINARY, "regular", look.words) + 1.0
            if look.chords_first:
                rise += 1.0
            elif words:
                least = (style.WORDS_LEADING + (style.VERSES_APART if divided else 0.0)) * look.words - below
            baseline = y + max(rise, least)
            words.append((verse, baseline))
            y = baseline + below
            second = [run for column in columns for run in verse_runs(column.words, verse, under=True)]
            if second:
                y += max(rise_of(second, metrics), UNDER_LEADING * look.words - below)
                under.append((verse, y))
                y += below
    return tuple(words), tuple(under), y


def note_rise(notes: Iterable[Run], metrics: Metrics, size: float) -> float:
    """Return how high the names of notes rise: as letters with a flat, or higher (double flats of the music face)."""
    return max(metrics.rise("d♭", "bold", size), *(metrics.rise(n.text, n.face, n.size) for n in notes))


def verse_runs(words: tuple[Words | None, ...], verse: int, *, under: bool = False) -> Iterator[Run]:
    """Yield the set text of the words of a verse at one place, or of those on a second line."""
    if verse < len(words) and (sung := words[verse]) is not None:
        yield from sung.under if under else sung.runs
