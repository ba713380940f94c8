"""What is settled once is not settled again, and is the same as from nothing."""

from itertools import pairwise

import pytest

from arranger.harmony import settled as settling
from arranger.harmony.settled import bare, settled
from arranger.harmony.solve import solve_song
from arranger.harmony.taste import DEFAULT
from arranger.song.read import read
from arranger.text.source import Source
from tests.harmony.edits import EDITS, OF_WORDS, differing, edited
from tests.library.many import SAMPLES

SONG = """song Low Field
key D
section Verse
cue softly
| D G/B | A D | Bm G | A |
sing | Over the * wide low | field we go | and * on | |
section Chorus
pickup And
| G D | Em A | G A | D |
sing | home | home | again, we * all go | home |
"""


def song_of(text):
    song, problems = read(Source.of("field.song.txt", text))
    assert song is not None, problems
    return song


@pytest.fixture
def searches(monkeypatch):
    """Count the searches."""
    made = []

    def counted(song, taste, **given):
        made.append(song)
        return solve_song(song, taste, **given)

    monkeypatch.setattr(settling, "solve_song", counted)
    return made


def test_random_edits_are_settled_as_from_nothing():
    assert list(differing(3, 50)) == []


def test_random_edits_are_of_both_kinds():
    """Some leave the music as it was and some do not: the comparison would hold of nothing kept, or of no edit."""
    done = list(edited(3, 50))
    same = [bare(one.song) == bare(two.song) for one, two in pairwise(done)]
    assert 10 < sum(same) < 40
    assert len({kind for _, kind in done}) > len(EDITS) / 2


def test_edits_of_what_no_hand_depends_on_keep_the_music():
    done = list(edited(4, 150))
    kept = [(bare(one.song) == bare(two.song), two.kind) for one, two in pairwise(done)]
    chains = [pair for number, pair in enumerate(kept, 1) if number % 25]  # at the others a new song is taken
    assert [kind for same, kind in chains if kind in OF_WORDS and not same] == []
    assert sum(kind in OF_WORDS for _, kind in chains) > 20


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("Low Field", "High Field"),
        ("cue softly", "cue guitar fill"),
        ("field we go", "fields they know"),
        ("again, we", "Once more, they"),
        ("wide low", "wide, low"),
        ("field we go", "field. We go!"),
        ("pickup And", "pickup Then and only then"),
        ("section Verse", "tempo 72\n# slow\nsection Story".partition("\n")[2]),
        ("key D\n", "key D\nrights nobody\nsound piano + pad\nplay held\n"),
    ],
)
def test_words_alone_cost_no_search(old, new, searches):
    assert settled(song_of(SONG), DEFAULT)[0] is not None
    after = song_of(SONG.replace(old, new))
    assert len(searches) == 1
    assert repr(settled(after, DEFAULT)) == repr(solve_song(after, DEFAULT))
    assert len(searches) == 1


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("| D G/B |", "| D G |"),
        ("key D", "key D\nband bass"),
        ("key D", "key D\ntempo 60"),
        ("section Verse", "section Verse\nsuspensions off"),
        ("| home | home |", "| home | |"),
        ("| home | home |", "| home going on and on | home |"),
        ("| home | home |", "| home- | home |"),
        ("| home | home |", "| home, oh | home |"),
        ("pickup And\n", ""),
        ("sing | Over the * wide low | field we go | and * on | |\n", ""),
    ],
)
def test_what_hands_depend_on_is_searched_anew(old, new, searches):
    assert old in SONG
    settled(song_of(SONG), DEFAULT)
    after = song_of(SONG.replace(old, new))
    assert repr(settled(after, DEFAULT)) == repr(solve_song(after, DEFAULT))
    assert len(searches) == 2


def test_a_warning_stands_at_its_place_in_the_song_at_hand():
    """Where there is anything to tell, it is told of this song's lines and not of those found before."""
    text = SONG.replace("| G D | Em A |", "| G=C2G5 D | Em A |")
    first, after = song_of(text), song_of("# remark\n" + text)
    assert settled(first, DEFAULT)[1]
    assert repr(settled(after, DEFAULT)[1]) == repr(solve_song(after, DEFAULT)[1])
    assert repr(settled(first, DEFAULT)[1]) != repr(settled(after, DEFAULT)[1])


def test_another_taste_is_searched_anew(searches):
    song = song_of(SONG)
    settled(song, DEFAULT)
    settled(song, DEFAULT._replace(notes=4))
    settled(song, DEFAULT, figures=False)
    assert len(searches) == 3


def test_no_more_is_kept_than_is_said(searches):
    for path in SAMPLES[: settling.KEPT + 1]:
        settled(song_of(path.read_text(encoding="utf-8")), DEFAULT, figures=False)
    settled(song_of(SAMPLES[0].read_text(encoding="utf-8")), DEFAULT, figures=False)
    assert len(searches) == settling.KEPT + 2
