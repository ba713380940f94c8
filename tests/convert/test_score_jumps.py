"""Repeats and jumps, as notation programs write them: by signs, by words, by both. Each bar has a chord of its own.

Wanted is the order in which musicians play the bars, written by hand: `A B A C` for the bars with these chords.
"""

import re

import pytest

from arranger.convert.score_conversion import convert_score
from tests.convert.second_reader import song_of

FORWARD = '<barline location="left"><repeat direction="forward"/></barline>'
BACK = '<barline location="right"><repeat direction="backward"/></barline>'
DOUBLE = '<barline location="right"><bar-style>light-light</bar-style></barline>'


def back(times: int) -> str:
    return f'<barline location="right"><repeat direction="backward" times="{times}"/></barline>'


def ending(number: str, *, closed: bool = True, end: str = "stop") -> tuple[str, str]:
    repeat = '<repeat direction="backward"/>' if closed else ""
    return (
        f'<barline location="left"><ending number="{number}" type="start"/></barline>',
        f'<barline location="right"><ending number="{number}" type="{end}"/>{repeat}</barline>',
    )


def words(text: str, sign: str = "", sound: str = "") -> str:
    kinds = f"<direction-type><words>{text}</words></direction-type>" if text else ""
    kinds += f"<direction-type><{sign}/></direction-type>" if sign else ""
    return f"<direction>{kinds}{f'<sound {sound}/>' if sound else ''}</direction>"


def score(*bars: tuple[str, str, str]) -> bytes:
    """Make a score of bars: the signs before a chord, the chord, the signs behind it."""
    note = "<note><pitch><step>C</step><octave>5</octave></pitch><duration>4</duration></note>"
    made = "".join(
        f"<measure number='{n}'>{before}<harmony><root><root-step>{chord[0]}</root-step>"
        f"</root><kind>major</kind></harmony>{note}{after}</measure>"
        for n, (before, chord, after) in enumerate(bars, 1)
    )
    return f"<score-partwise><part id='P1'>{made}</part></score-partwise>".encode()


def played(text: str) -> str:
    """Give the chords of a song as it is played: each bar has one."""
    song, codes = song_of(text)
    assert codes == []
    found = []
    for step in song.roadmap:
        for _ in range(step.times):
            found += _played_once(text, song.sections[step.section].name)
    return " ".join(found)


def _played_once(text: str, name: str) -> list[str]:
    """Play a section by its text, with its repeats, by the simplest rules: none nest."""
    body = re.split(r"^section\s+", text, flags=re.M)
    rows = next(part for part in body if part.splitlines()[0] == name).splitlines()
    bars: list[tuple[str, str, str]] = []  # signs on the left, chord, signs on the right
    for row in rows:
        if row.startswith("|"):
            signs = re.findall(r":?\|\|?:?(?:(?:\d\.)+)?(?:\s*x\d+)?|:\|(?:\s*x\d+)?|[A-G]b?", row)
            chords = [i for i, sign in enumerate(signs) if sign[0] in "ABCDEFG"]
            bars += [(signs[i - 1], signs[i], signs[i + 1]) for i in chords]
    out: list[str] = []
    start, time, at = 0, 1, 0
    while at < len(bars):
        left, chord, right = bars[at]
        if left.endswith(":") and at != start:
            start, time = at, 1
        numbers = re.findall(r"\d(?=\.)", left)
        if numbers and str(time) not in numbers:
            at += 1
            while at < len(bars) and not re.findall(r"\d(?=\.)", bars[at][0]):
                at += 1
            continue
        out.append(chord)
        times = re.search(r"x(\d+)", right)
        again = right.startswith(":") and (bool(numbers) or time < int(times[1] if times else 2))
        if again:
            time, at = time + 1, start
        else:
            if right.startswith(":"):
                start, time = at + 1, 1
            at += 1
    return out


ONE, TWO = ending("1"), ending("2", closed=False)
LAST = ending("2", closed=False, end="discontinue")
FORMS = {
    "nothing": ([("", "A", ""), ("", "B", "")], "A B"),
    "a repeat without a start": ([("", "A", ""), ("", "B", BACK), ("", "C", "")], "A B A B C"),
    "two repeats, one without a start": (
        [("", "A", BACK), ("", "B", BACK), ("", "C", "")],
        "A A B B C",
    ),
    "three times": ([("", "A", ""), (FORWARD, "B", back(3)), ("", "C", "")], "A B B B C"),
    "endings": ([(FORWARD, "A", ""), (ONE[0], "B", ONE[1]), (TWO[0], "C", TWO[1]), ("", "D", "")], "A B A C D"),
    "an ending that has no end": (
        [(FORWARD, "A", ""), (ONE[0], "B", ONE[1]), (LAST[0], "C", ""), ("", "D", DOUBLE), ("", "E", "")],
        "A B A C D E",
    ),
    "only a first ending": ([(FORWARD, "A", ""), (ONE[0], "B", ONE[1]), ("", "C", "")], "A B A C"),
    "endings 1 and 2, and 3": (
        [
            (FORWARD, "A", ""),
            (ending("1, 2")[0], "B", ending("1, 2")[1]),
            (ending("3", closed=False)[0], "C", ending("3", closed=False)[1]),
        ],
        "A B A B A C",
    ),
    "endings without numbers": (
        [(FORWARD, "A", ""), (ending(" ")[0], "B", ending(" ")[1]), (ending(" ", closed=False)[0], "C", TWO[1])],
        "A B A C",
    ),
    "da capo al fine in words": ([("", "A", words("Fine")), ("", "B", words("D.C. al Fine"))], "A B A"),
    "da capo by sound": (
        [("", "A", ""), ("", "B", words("", sound="fine='yes'")), ("", "C", words("", sound="dacapo='yes'"))],
        "A B C A B",
    ),
    "both": (
        [("", "A", words("Fine", sound="fine='yes'")), ("", "B", words("D.C.", sound="dacapo='yes'"))],
        "A B A",
    ),
    "dal segno al fine": (
        [("", "A", ""), (words("", "segno"), "B", ""), ("", "C", words("FINE")), ("", "D", words("D. S. al Fine"))],
        "A B C D B C",
    ),
    "dal segno al coda": (
        [
            ("", "A", ""),
            (words("", "segno"), "B", words("To Coda")),
            ("", "C", words("D.S. al Coda")),
            (words("Coda"), "D", ""),
        ],
        "A B C B D",
    ),
    "two coda signs and no word": (
        [("", "A", words("", "coda")), ("", "B", words("D.C. al Coda")), (words("", "coda"), "C", "")],
        "A B A C",
    ),
    "to, and a coda sign": (
        [("", "A", words("To", "coda")), ("", "B", words("D.C. al", "coda")), (words("CODA", "coda"), "C", "")],
        "A B A C",
    ),
    "by sound alone": (
        [
            (words("", sound="segno='1'"), "A", words("", sound="tocoda='1'")),
            ("", "B", words("", sound="dalsegno='1'")),
            (words("", sound="coda='1'"), "C", ""),
        ],
        "A B A C",
    ),
    "repeats are not taken again": (
        [(FORWARD, "A", BACK), ("", "B", words("Fine")), ("", "C", words("D.C. al Fine"))],
        "A A B C A B",
    ),
    "but where it is said": (
        [(FORWARD, "A", BACK), ("", "B", words("Fine")), ("", "C", words("D.C. al Fine with repeats"))],
        "A A B C A A B",
    ),
    "the last ending after a jump": (
        [
            (FORWARD, "A", ""),
            (ONE[0], "B", ONE[1]),
            (TWO[0], "C", TWO[1]),
            ("", "D", words("D.C. al Fine")),
        ],
        "A B A C D A C D",
    ),
    "to the coda the second time of a repeat": (
        [
            ("", "A", ""),
            (words("", "segno") + FORWARD, "B", ""),
            ("", "C", words("To Coda") + BACK),
            ("", "D", words("D.S. al Coda")),
            (words("Coda"), "E", ""),
        ],
        "A B C B C D B C E",
    ),
    "a repeat in the coda": (
        [("", "A", words("To Coda")), ("", "B", words("D.C. al Coda")), (words("Coda") + FORWARD, "C", BACK)],
        "A B A C C",
    ),
    "a jump in the last ending": (
        [
            (words("", "segno"), "D", ""),
            (FORWARD, "A", words("To Coda")),
            (ONE[0], "B", ONE[1]),
            (TWO[0], "C", words("D.S. al Coda") + TWO[1]),
            (words("Coda"), "E", ""),
        ],
        "D A B A C D A E",
    ),
    "da capo in Italian": ([("", "A", words("Fine")), ("", "B", words("Da Capo al Fine"))], "A B A"),
}


@pytest.mark.parametrize("name", FORMS)
def test_bars_are_played_in_this_order(name):
    bars, wanted = FORMS[name]
    made, problems = convert_score(score(*bars))
    assert made is not None, problems
    assert played(made.text) == wanted, made.text
