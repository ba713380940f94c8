"""Places in a text: counted as songs count, and as browsers do (UTF-16 units: ECMA-262, 6.1.4)."""

import re

from hypothesis import given
from hypothesis import strategies as st

from arranger.desk.answers import answer
from arranger.desk.places import places, units
from arranger.text.source import Source, Span

LETTERS = st.text(
    st.sampled_from("ab |\r\n\ufeffé𝄞𐐀") | st.sampled_from("e\u0301\u0323\u1100\u1161\u11a8\u09c7\u09be\u0344\u212b")
    | st.characters(exclude_categories=("Cs",)),
    max_size=24,
)  # fmt: skip


@given(LETTERS)
def test_what_stands_before_a_place_is_the_same_text(typed):
    """Wherever both counts begin a stretch, what stands before it in the browser reads as what does in the song."""
    where = places(typed)
    song = Source.of("x", typed).text
    wide = typed.encode("utf-16-le")
    for counted, shown in zip(*where, strict=True):
        before = wide[: 2 * shown].decode("utf-16-le")
        assert Source.of("x", before).text == song[:counted]
    assert where.song[-1] == len(song)
    assert where.browser[-1] == len(wide) // 2 == units(typed)


@given(LETTERS, st.data())
def test_places_go_there_and_back(typed, data):
    where = places(typed)
    length = len(Source.of("x", typed).text)
    start = data.draw(st.integers(0, length))
    assert 0 <= where.shown(start) <= units(typed)
    assert where.shown(start) <= where.shown(min(start + 1, length))
    assert where.meant(where.shown(length)) == length
    assert where.ends(Span(start, length))[1] == where.shown(length)


def test_letters_beyond_and_marks_that_join():
    """By hand: a clef of music is two units; e with an acute typed as two characters is one of the song's."""
    typed = "𝄞e\u0301\r\nD"
    where = places(typed)
    assert [where.shown(n) for n in range(4)] == [0, 2, 4, 6]
    assert [where.meant(n) for n in (0, 2, 4, 6, 7)] == [0, 1, 2, 3, 4]


def test_items_of_the_pages_are_placed_as_browsers_count():
    """Offsets of a browser are UTF-16 units (ECMA-262, 6.1.4)."""
    text = "song Cafe\u0301\nkey C\n# \U0001d11e\n\nsection Ve\u0301rse\n| C | Am7 |\n"
    (page,) = answer({"ask": "pages", "text": text})["pages"]
    units = text.encode("utf-16-le")
    chords = re.findall(r'data-role="chord" data-from="(\d+)" data-to="(\d+)"', page)
    found = {units[2 * int(start) : 2 * int(end)].decode("utf-16-le") for start, end in chords}
    assert found == {"C", "Am7"}
