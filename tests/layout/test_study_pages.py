"""Pages to practise from: nothing overlaps or leaves the page, and what has no room is told."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from arranger.harmony.taste import DEFAULT
from arranger.layout.content.pictures import shown_range
from arranger.layout.model import Document, Keyboard, Page, Text
from arranger.layout.options import PartOptions
from arranger.layout.pages.study_cells import in_print, moves_words
from arranger.layout.pages.study_page import LaidStudies, lay_out_studies
from arranger.layout.pages.study_strips import CAUTION
from arranger.pdf.fonts import metrics
from arranger.studies.model import StudyHand
from arranger.studies.offer import by_importance, studies_of
from arranger.studies.study_hands import ArrangedSong
from arranger.theory.chord import Chord
from arranger.theory.key import Key
from arranger.theory.pitch import NoteName, Pitch
from arranger.theory.qualities import BY_NAME
from arranger.units import PAPERS, mm
from tests.layout import boxes
from tests.studies.practised import one, practised

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.song.txt"))
EDGE = mm(10)  # what printers lose, and more
LONG = "A Song with a Title that Goes on and on until Nobody Reads It any More, and Then Some"


@cache
def arranged() -> tuple[ArrangedSong, ...]:
    return tuple(practised(path.read_text(encoding="utf-8")) for path in SAMPLES)


def laid_out(*songs: ArrangedSong, minutes: int = 15, pages: int = 1, paper: str = "a4") -> LaidStudies:
    studies = studies_of(songs, DEFAULT, minutes)
    laid, problems = lay_out_studies(studies, minutes, pages, PartOptions(PAPERS[paper], date="30 Nov"), metrics())
    assert problems == ()
    return laid


def texts(document: Document, role: str) -> list[str]:
    return [item.text for page in document.pages for item in page.items if isinstance(item, Text) and item.role == role]


def assert_clean(page: Page) -> None:
    clashes = [
        (a, b)
        for a, b in boxes.overlaps(page, metrics())
        if not {a.role, b.role} & {"finger"} or Keyboard not in {type(a), type(b)}
    ]
    assert clashes == []
    for item in page.items:
        rect = boxes.rect(item, metrics())
        assert rect.x >= EDGE and rect.right <= page.width - EDGE, item
        assert rect.y >= EDGE and rect.bottom <= page.height - mm(8), item


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("number", range(len(SAMPLES)), ids=[path.name for path in SAMPLES])
def test_each_sample(number: int, paper: str) -> None:
    laid = laid_out(arranged()[number], paper=paper)
    assert len(laid.document.pages) == 1
    assert_clean(laid.document.pages[0])
    assert sum(study.minutes for study in laid.timed) == 15


@pytest.mark.parametrize(("minutes", "pages"), [(3, 1), (15, 1), (15, 2), (60, 2)])
def test_all_samples_together(minutes: int, pages: int) -> None:
    laid = laid_out(*arranged(), minutes=minutes, pages=pages)
    assert len(laid.document.pages) == pages
    for page in laid.document.pages:
        assert_clean(page)
    assert sum(study.minutes for study in laid.timed) == minutes
    assert len(laid.document.bookmarks) == len(laid.timed)
    assert "".join(texts(laid.document, "text")).count(CAUTION[:30]) == 1, "the caution stands once"


def test_long_titles_and_symbols_stay_in_their_room() -> None:
    song = one(
        "| C#m7b5 | F#7b9 | Bmaj7/D# | G#m7 C#7sus4 |\n| C#m7b5 | F#7b9 | Bmaj7/D# | E6/9 |",
        "key B\ntempo dotted 44\nmeter 6/8\n",
        LONG,
    )
    slow = one("| C | Dm | Eb | F#m |", "key C\ntempo 21\n")
    for songs in ((slow,), (song,), (song, ArrangedSong(f"{LONG} {LONG}", song.arrangement))):
        for pages in (1, 2):
            laid = laid_out(*songs, pages=pages)
            for page in laid.document.pages:
                assert_clean(page)


def test_pinned_hands_that_lie_far_apart_have_the_whole_width() -> None:
    far = one("| C=C2G2C3 | F=F5A5C6 | C=C2G2C3 | F=A0C8 |", "key C\ntempo 60\n")
    for page in laid_out(far).document.pages:
        assert_clean(page)


def test_three_tempi_as_metronome_marks() -> None:
    laid = laid_out(one("| C | F | G | Am |", "key C\ntempo 90\n"))
    assert texts(laid.document, "tempo")[:6] == ["♩", " = 45", "♩", " = 60", "♩", " = 90"]
    free = laid_out(one("| C | F | G | Am |", "key C\ntempo free\n"))
    assert [text for text in texts(free.document, "tempo") if "=" in text][:3] == [" = 40", " = 53", " = 80"]


def test_beats_too_slow_for_a_metronome_are_divided() -> None:
    for facts, marks in (("tempo 72", [" = 36", " = 48", " = 72"]), ("tempo 58", ["eighths = 58", " = 39", " = 58"])):
        laid = laid_out(one("| C | F | G | Am |", f"key C\n{facts}\n"))
        assert [text for text in texts(laid.document, "tempo") if "=" in text][:3] == marks


def test_what_has_no_room_is_told() -> None:
    laid = laid_out(*arranged(), minutes=60)
    assert laid.left_out
    assert len(laid.left_out) + len(laid.timed) == len(studies_of(arranged(), DEFAULT, 60).studies)
    kinds = [study.study.kind for study in laid.timed]
    assert {"change", "loop", "triad"} <= set(kinds), "of every kind something"


def test_the_first_that_is_shown_is_the_hardest_change() -> None:
    studies = studies_of(arranged(), DEFAULT, 15).studies
    order = by_importance(studies)
    assert order[0] == (0, 1)
    assert [studies[at].kind for at, _ in order[1:3]] == ["loop", "triad"]
    shown = dict.fromkeys(range(len(studies)), 0)
    for at, rows in order:
        shown[at] = max(shown[at], rows)
    assert all(
        rows == (len(study.rows) or len(study.sounds)) for rows, study in zip(shown.values(), studies, strict=True)
    )


def test_both_hands_of_a_pair_are_on_the_same_keys() -> None:
    laid = laid_out(arranged()[0])
    pictures = [item for item in laid.document.pages[0].items if isinstance(item, Keyboard)]
    pair = laid.timed[0].study.rows[0].hands
    low, high = shown_range([pitch.midi for hand in pair for pitch in hand.right])
    assert [(item.low, item.high) for item in pictures[:2]] == [(low, high)] * 2
    assert [mark.kind for mark in pictures[0].marks] == ["fresh"] * len(pair[0].right)
    assert {mark.origin for mark in pictures[1].marks} - {None} <= {pitch.midi for pitch in pair[0].right}


def hand(*notes: str) -> StudyHand:
    return StudyHand(None, tuple(map(Pitch.parse, notes)))


@pytest.mark.parametrize(
    ("one_hand", "two", "words"),
    [
        (("C4", "E4", "G4"), ("C4", "F4", "A4"), "stays C; moves E to F, G to A"),
        (("C4", "E4", "G4"), ("B3", "D4", "F#4"), "nothing stays; moves C to B, E to D, G to F♯"),
        (("C4", "E4", "G4"), ("C4", "E4", "G4", "C5"), "stays C, E, G; comes C"),
        (("G3", "C4", "E4", "G4"), ("A3", "C4", "F4"), "stays C; moves G to A, E to F; goes G"),
    ],
)
def test_what_stays_and_what_moves(one_hand: tuple[str, ...], two: tuple[str, ...], words: str) -> None:
    assert moves_words(hand(*one_hand), hand(*two)) == words


def test_keys_and_chords_have_real_accidentals_and_titles_stay() -> None:
    words = (Chord(NoteName.parse("C#"), BY_NAME["m7"]), " in ", Key.parse("Bb"), "; Ebb: Verse, Bb, bar 3")
    assert in_print(words, metrics()) == "C♯m7 in B♭ major; Ebb: Verse, Bb, bar 3"
