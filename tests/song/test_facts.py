"""Facts of songs and sections: each form that is read, and what is wrong with the others."""

from __future__ import annotations

from fractions import Fraction

import pytest

from arranger.theory.key import Key
from tests.song.texts import codes, problems, section, song

F = Fraction

ROW = "| C |"


def with_fact(fact: str) -> str:
    return f"section One\n{fact}\n{ROW}"


@pytest.mark.parametrize(
    ("text", "key"),
    [("D", "D"), ("Dm", "Dm"), ("D minor", "Dm"), ("Bb major", "Bb"), ("F#min", "F#m"), ("B♭m", "Bbm"),
     ("C Major", "C"), ("Cb", "Cb"), ("G#m", "G#m")],
)  # fmt: skip
def test_keys(text: str, key: str) -> None:
    assert song("section One\n| N.C. |", f"song T\nkey {text}\n").key == Key.parse(key)


@pytest.mark.parametrize(
    ("text", "bpm", "unit", "gradual", "speed"),
    [
        ("72", 72, 1, False, 72),
        ("dotted 60", 60, F(3, 2), False, 90),
        ("Half 60", 60, 2, False, 120),
        ("free", None, 1, False, None),
        ("rit to 60", 60, 1, True, 60),
        ("rit to half 40", 40, 2, True, 80),
    ],
)
def test_tempos(text: str, bpm: int | None, unit: F, gradual: bool, speed: F | None) -> None:
    tempo = section(f"tempo {text}\n{ROW}").facts.tempo
    assert tempo is not None
    assert (tempo.text, tempo.bpm, tempo.unit, tempo.gradual) == (text, bpm, unit, gradual)
    assert tempo.quarters_a_minute == speed


@pytest.mark.parametrize(
    ("text", "level"),
    [("ppp", "ppp"), ("mf", "mf"), ("FF", "ff"), ("p to f", "p"), ("cresc", None), ("dim", None), ("sfz", None)],
)
def test_dynamics(text: str, level: str | None) -> None:
    dynamic = section(f"dynamic {text}\n{ROW}").facts.dynamic
    assert dynamic is not None
    assert (dynamic.text, dynamic.level) == (text, level)


@pytest.mark.parametrize(
    ("text", "kind", "parts", "at"),
    [
        ("piano", "single", ("piano",), None),
        ("piano + pad", "layer", ("piano", "pad"), None),
        ("pad / piano split C4", "split", ("pad", "piano"), "C4"),
        ("pad / piano + bells split F#3", "split", ("pad", "piano + bells"), "F#3"),
        ("pad / piano", "split", ("pad", "piano"), None),
    ],
)
def test_sounds(text: str, kind: str, parts: tuple[str, ...], at: str | None) -> None:
    sound = section(f"sound {text}\n{ROW}").facts.sound
    assert sound is not None
    assert (sound.kind, sound.parts, sound.split_at and str(sound.split_at)) == (kind, parts, at)


def test_switches_and_words() -> None:
    facts = section(f"suspensions off\noctaves On\nplay broken, lightly\n{ROW}").facts
    assert (facts.suspensions, facts.octaves, facts.play and facts.play.value) == (False, True, "broken, lightly")


def test_what_the_header_says() -> None:
    head = (
        "Song A Title\nKEY Eb\nwords W\nmusic M\nrights R\nstart keys, 1 bar\ncopyist C\nband bass, lead guitar\n"
        "feel swing\ntempo 100\nmeter 3/4\n"
    )
    found = song("section One\n| Eb |", head)
    assert found.title.value == "A Title"
    assert found.band == ("bass", "lead guitar")
    assert (found.feel, str(found.meter), found.tempo and found.tempo.bpm) == ("swing", "3/4", 100)
    texts = (found.words_by, found.music_by, found.rights, found.start, found.copyist)
    assert [t and t.value for t in texts] == ["W", "M", "R", "keys, 1 bar", "C"]


@pytest.mark.parametrize(
    ("typed", "tag"), [("fr", "fr"), ("PT-br", "pt-BR"), ("sr-latn-RS", "sr-Latn-RS"), ("es-419", "es-419")]
)
def test_a_language_is_a_tag(typed: str, tag: str) -> None:
    found = song("section One\n| C |", f"song T\nkey C\nlanguage {typed}\n")
    assert found.language and found.language.value == tag


def test_facts_come_from_the_section_then_its_model_then_the_header() -> None:
    found = song(
        "section Verse\ndynamic p\nplay halves\n| C |\nsection Two\nlike Verse\nplay broken\nsection Three\n| C |",
        "song T\nkey C\ndynamic f\nsound organ\n",
    )
    verse, two, three = (s.facts for s in found.sections)
    assert [f.dynamic and f.dynamic.text for f in (verse, two, three)] == ["p", "p", "f"]
    assert [f.play and f.play.value for f in (verse, two, three)] == ["halves", "broken", None]
    assert {f.sound and f.sound.text for f in (verse, two, three)} == {"organ"}
    assert [s.own for s in found.sections] == [("dynamic", "play"), ("play",), ()]


@pytest.mark.parametrize(
    ("fact", "code"),
    [
        ("tempo 72 bpm", "bad-tempo"),
        ("tempo fast", "bad-tempo"),
        ("tempo 5", "bad-tempo"),
        ("tempo 99999999999999999999", "bad-tempo"),
        ("tempo", "bad-tempo"),
        ("meter C", "bad-meter"),
        ("meter 4", "bad-meter"),
        ("meter 6/16", "bad-meter"),
        ("key H", "bad-key"),
        ("key am", "bad-key"),
        ("key G#", "no-such-key"),
        ("dynamic loud", "bad-dynamic"),
        ("dynamic p - f", "bad-dynamic"),
        ("sound + pad", "bad-sound"),
        ("sound piano split C4", "bad-sound"),
        ("sound pad / piano split C", "bad-sound"),
        ("suspensions no", "bad-switch"),
        ("play", "empty-fact"),
        ("tacet please", "words-after-tacet"),
        ("key: G", "colon-after-word"),
        ("key = G", "colon-after-word"),
        ("dynamic f\ndynamic p", "fact-twice"),
        ("start keys alone", "header-word-late"),
        ("words la la", "header-word-late"),
        ("capo 2 in D", "header-word-late"),
    ],
)
def test_what_is_wrong_in_a_fact(fact: str, code: str) -> None:
    assert codes(with_fact(fact)) == [code]


@pytest.mark.parametrize(
    ("fact", "hint"),
    [
        ("tempo 72 bpm", "`tempo 72`"),
        ("tempo ♩ = 90", "`tempo 90`"),
        ("meter C", "`meter 4/4`"),
        ("key H", "`key B`"),
        ("key Hm", "`key Bm`"),
        ("key f#m", "`key F#m`"),
        ("key G#", "`Ab`"),
        ("dynamic loud", "`dynamic f`"),
        ("dynamic p - f", "`dynamic p to f`"),
        ("suspensions no", "`suspensions off`"),
        ("key: G", "`key G`"),
    ],
)
def test_the_way_out_is_told(fact: str, hint: str) -> None:
    (said,) = problems(with_fact(fact))
    assert any(hint in h for h in said.hints), said.hints


@pytest.mark.parametrize(
    ("head", "code"),
    [
        ("key C\n", "missing-song"),
        ("song T\n", "missing-key"),
        ("song\nkey C\n", "empty-fact"),
        ("song T\nkey C\nfeel swung\n", "bad-feel"),
        ("song T\nkey C\ncapo 2\n", "bad-capo"),
        ("song T\nkey C\ncapo 12 in C\n", "bad-capo"),
        ("song T\nkey C\ncapo 2 in C\n", "capo-disagrees"),
        ("song T\nkey C\nlike Verse\n", "before-section"),
        ("song T\nkey C\n| C | G |\n| F |\n", "before-section"),
    ],
)
def test_what_is_wrong_in_the_header(head: str, code: str) -> None:
    assert codes(with_fact(""), head) == [code]


def test_what_would_agree_with_a_capo_is_told() -> None:
    (said,) = problems("section One\n| C |", "song T\nkey D\ncapo 3 in C\n")
    assert "Eb major" in said.message
    assert [h.split("`")[1] for h in said.hints] == ["key Eb", "capo 2 in C", "capo 3 in B"]


def test_with_a_capo_the_rows_sound_in_the_key() -> None:
    found = song(
        "section One\n| C Am7/G | F=FAC4 G7= |\nhook | E5 G |\nsection Two\nkey E\n| D A/C# |",
        "song T\nkey D\ncapo 2 in C\n",
    )
    one, two = found.sections
    written = [m.chord for b in one.bars for m in b.marks if m.chord]
    assert [w.written for w in written] == ["D", "Bm7/A", "G", "A7"]
    assert [f"{p.name}{p.octave or ''}" for p in written[2].pins] == ["G", "B", "D4"]
    hook = one.rows[0].hook
    assert hook is not None and [str(n.pitch) for n in hook.bars[0]] == ["F#5", "A5"]
    assert [str(m.chord and m.chord.chord) for b in two.bars for m in b.marks] == ["E", "B/D#"]
    assert found.capo is not None and str(found.capo.shapes) == "C"
