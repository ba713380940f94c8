"""MIDI files: by the standards' own numbers, and read back by two readers, note for note.

Numbers are those of the Standard MIDI Files 1.0 specification (MIDI Manufacturers Association, RP-001) and of General
MIDI Level 1, read as bytes here; the second reader is pretty_midi (Raffel and Ellis, ISMIR 2014).
"""

from __future__ import annotations

import struct
from dataclasses import replace
from fractions import Fraction

import pretty_midi
import pytest

from arranger.digests import as_made
from arranger.exchange.midi import PROGRAMS, TooLongError, program_of, to_midi
from arranger.harmony.model import Arrangement
from arranger.sounding.perform import perform
from arranger.theory.key import all_keys
from tests.exchange.read_back import by_mido, by_pretty_midi, expected, read
from tests.sounding.songs import all_songs, arranged

HEAD = "song Test\nkey C\nmeter 4/4\ntempo 60\nsuspensions off\noctaves off\n"
SONGS = 20  # made by chance, beside the samples; `python -m tests.exchange.read_back 500` has more


def midi(text: str, **how: object) -> bytes:
    return to_midi(perform(arranged(HEAD + text), **how))  # type: ignore[arg-type]


def chunks(data: bytes) -> list[tuple[bytes, bytes]]:
    """Return the chunks of a file: four letters, four bytes of length, so many bytes."""
    found, place = [], 0
    while place < len(data):
        (size,) = struct.unpack(">I", data[place + 4 : place + 8])
        found.append((data[place : place + 4], data[place + 8 : place + 8 + size]))
        place += 8 + size
    return found


def test_the_header_and_the_tracks_are_those_of_the_standard() -> None:
    """`MThd`, length 6, format 1, the number of tracks, ticks a quarter; each track ends with FF 2F 00."""
    data = midi("band bass\nsection A\nplay held\n| C |")
    (head, *tracks) = chunks(data)
    assert head == (b"MThd", struct.pack(">HHH", 1, len(tracks), 480))
    assert all(name == b"MTrk" and body.endswith(b"\xff\x2f\0") for name, body in tracks)


def test_the_first_track_has_the_numbers_of_the_standard() -> None:
    """FF 51 03: microseconds a quarter; FF 58 04: 6/8 is 6, 3, 36 clocks a click; FF 59 02: three flats, major."""
    text = "song Test\nkey Eb\nmeter 6/8\ntempo dotted 60\nsection A\n| Eb |\nsing | home |\n"
    track = chunks(to_midi(perform(arranged(text))))[1][1]
    assert b"\xff\x51\x03" + (666667).to_bytes(3, "big") in track  # 60 dotted quarters: 90 quarters a minute
    assert b"\xff\x58\x04" + bytes([6, 3, 36, 8]) in track
    assert b"\xff\x59\x02" + struct.pack("bB", -3, 0) in track
    assert b"\xff\x05\x04home" in track and b"\xff\x06\x01A" in track and b"\xff\x03\x04Test" in track


def test_all_keys_have_a_signature() -> None:
    """The number of sharps or flats (below 0), and 0 for major or 1 for minor."""
    for key in all_keys():
        text = f"song Test\nkey {key}\nsection A\n| {key.tonic}{'m' if key.minor else ''} |"
        track = chunks(to_midi(perform(arranged(text))))[1][1]
        assert b"\xff\x59\x02" + struct.pack("bB", key.signature, key.minor) in track, key


@pytest.mark.parametrize(
    ("sound", "number", "instrument"),
    [
        ("piano", 1, "Acoustic Grand Piano"),
        ("grand piano", 1, "Acoustic Grand Piano"),
        ("electric piano", 5, "Electric Piano 1"),
        ("Organ", 17, "Drawbar Organ"),
        ("church organ", 20, "Church Organ"),
        ("strings", 49, "String Ensemble 1"),
        ("warm pad", 90, "Pad 2 (warm)"),
        ("pad", 90, "Pad 2 (warm)"),
        ("bass", 33, "Acoustic Bass"),
        ("something else", 1, "Acoustic Grand Piano"),
    ],
)
def test_sounds_have_the_programs_of_general_midi(sound: str, number: int, instrument: str) -> None:
    """Names by pretty_midi's table of General MIDI, which counts from 0."""
    assert program_of(sound) == number
    assert pretty_midi.program_to_instrument_name(number - 1) == instrument


def test_all_words_of_sounds_lead_to_what_they_name() -> None:
    """The word itself is in General MIDI's name or family of it, as pretty_midi has them."""
    named = {
        word: pretty_midi.program_to_instrument_name(program_of(word) - 1)
        for word in ("harpsichord", "clavinet", "celesta", "vibraphone", "accordion", "choir", "brass", "harp")
    }
    assert named == {
        "harpsichord": "Harpsichord",
        "clavinet": "Clavinet",
        "celesta": "Celesta",
        "vibraphone": "Vibraphone",
        "accordion": "Accordion",
        "choir": "Choir Aahs",
        "brass": "Brass Section",
        "harp": "Orchestral Harp",
    }
    assert pretty_midi.program_to_instrument_name(program_of("harmonium") - 1) == "Reed Organ"
    assert pretty_midi.program_to_instrument_name(program_of("bells") - 1) == "Tubular Bells"
    assert len({words for words, _ in PROGRAMS}) == len(PROGRAMS)


# --- note for note --------------------------------------------------------------------------------------------------


def test_two_readers_hear_what_is_performed() -> None:
    notes = 0
    for number, (name, arrangement) in enumerate(all_songs(SONGS)):
        performance = perform(arrangement)
        data = to_midi(performance)
        assert by_mido(data) == expected(performance), name
        if number < 20:
            assert not by_pretty_midi(data, performance), name
        assert as_made(data) and to_midi(perform(arrangement)) == data
        notes += len(performance.notes)
    assert notes > 10_000


def test_words_and_sections_are_read_back() -> None:
    for name, arrangement in all_songs(0):
        performance = perform(arrangement)
        first = read(to_midi(performance)).tracks[0]
        assert [m.text for m in first if m.type == "lyrics"] == [word.text for word in performance.words], name
        assert [m.text for m in first if m.type == "marker"] == [marker.text for marker in performance.markers]


def test_what_ends_stands_before_what_begins_at_one_tick() -> None:
    arrangement = arranged(HEAD + "band bass\nsection A\nplay quarters\n| C | C |")
    for track in read(to_midi(perform(arrangement))).tracks[1:]:
        begun = False
        for message in track:
            begun = message.type == "note_on" or (begun and message.time == 0)
            assert not (begun and message.type == "note_off" and message.time == 0)


def test_a_pad_has_no_pedal_and_a_part_that_is_silent_no_track() -> None:
    tracks = read(midi("sound piano + warm pad\nsection A\nplay held\n| C |")).tracks
    assert [track.name for track in tracks[1:]] == ["right hand", "left hand", "pad"]
    kinds = [{message.type for message in track} for track in tracks[1:]]
    assert ["control_change" in kind for kind in kinds] == [True, True, False]
    programs = [message.program for track in tracks for message in track if message.type == "program_change"]
    assert programs == [0, 0, 89]


# --- what is asked for ---------------------------------------------------------------------------------------------


def test_the_count_in_moves_all_by_a_bar() -> None:
    text = "section A\nplay held\n| C | F |"
    plain, counted = by_mido(midi(text)), by_mido(midi(text, count_in=True))
    clicks = [note for note in counted if note[0] == 9]
    assert [note[2] for note in clicks] == [0, 480, 960, 1440] and {note[1] for note in clicks} == {76}
    assert [note for note in counted if note[0] != 9] == [(c, k, a + 1920, b + 1920, v) for c, k, a, b, v in plain]


def test_a_count_in_before_a_short_bar_makes_whole_bars() -> None:
    track = read(midi("section A\nplay held\n| short 1/4 C | F |", count_in=True)).tracks[0]
    tick, meters = 0, []
    for message in track:
        tick += message.time
        if message.type == "time_signature":
            meters.append((tick, message.numerator))
    assert meters == [(0, 4)]  # seven beats are counted: with the short bar they are two bars


def test_slower_changes_nothing_but_the_tempo() -> None:
    text = "section A\nplay held\n| C | F |"
    slow = midi(text, share=Fraction(4, 5))
    assert by_mido(slow) == by_mido(midi(text))
    assert [m.tempo for m in read(slow).tracks[0] if m.type == "set_tempo"] == [1_250_000]  # 48 a minute


def test_a_keyboard_that_is_set_to_transpose_is_heard_as_it_sounds() -> None:
    performance = replace(perform(arranged(HEAD + "section A\nplay held\n| C |")), transpose=3)
    assert by_mido(to_midi(performance)) == expected(performance)
    assert [m.key for m in read(to_midi(performance)).tracks[0] if m.type == "key_signature"] == ["Eb"]


def test_a_song_of_hours_is_refused() -> None:
    row = "|: " + "C | " * 15 + "C :| x99"
    arrangement: Arrangement = arranged(HEAD.replace("60", "20") + f"section A\n{row}\n")
    with pytest.raises(TooLongError, match=r"4 hours at most, found one that sounds for 5\.3"):
        to_midi(perform(arrangement))


def test_titles_and_words_of_any_script_are_utf_8() -> None:
    data = midi("section Песня\n| C |\nsing | слово |")
    assert [m.text for m in read(data).tracks[0] if m.type == "lyrics"] == ["слово"]
