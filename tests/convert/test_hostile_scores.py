"""Scores and archives that somebody made to do harm, or that were damaged: a clear message, status 1, nothing written.

Each runs in a process of its own, which is measured: under 2 s and 64 MiB more than the program has anyway.
"""

import io
import os
import re
import sys
import zipfile
from pathlib import Path

import pytest

from arranger.cli import main
from arranger.convert.score_conversion import convert_score
from arranger.pipeline import all_problems
from arranger.text.source import Source

SECONDS, MEMORY = 2, 64 << 20
PAGE = os.sysconf("SC_PAGE_SIZE") if hasattr(os, "sysconf") else 4096
HEAD = b'<?xml version="1.0" encoding="UTF-8"?>\n'
NOTE = b"<note><pitch><step>C</step><octave>4</octave></pitch><duration>4</duration></note>"
CHORD = b"<harmony><root><root-step>C</root-step></root><kind>major</kind></harmony>"
ROOT = HEAD + b"<score-partwise>"


def score(bars: bytes) -> bytes:
    return ROOT + b'<part id="P1">' + bars + b"</part></score-partwise>"


def packed(xml: bytes, method: int = zipfile.ZIP_DEFLATED, name: str = "score.xml", more: int = 0) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", method) as archive:
        container = f'<container><rootfiles><rootfile full-path="{name}"/></rootfiles></container>'
        archive.writestr("META-INF/container.xml", container)
        archive.writestr(name, xml)
        for number in range(more):
            archive.writestr(f"{number}", b"")
    return made.getvalue()


def lying() -> bytes:
    """Make an archive that states a small size for 100 MiB."""
    whole = packed(b" " * (100 << 20))
    return whole.replace((100 << 20).to_bytes(4, "little"), (1000).to_bytes(4, "little"))


ENTITIES = b"".join(b'<!ENTITY l%d "%s">' % (n, b"&l%d;" % (n - 1) * 10 if n else b"ha") for n in range(12))
BAD = {
    "entities in entities.xml": HEAD + b"<!DOCTYPE s [" + ENTITIES + b"]><score-partwise>&l11;</score-partwise>",
    "one large entity.xml": HEAD + b'<!DOCTYPE s [<!ENTITY a "' + b"a" * 99_999 + b'">]><a>' + b"&a;" * 999 + b"</a>",
    "external entity.xml": HEAD + b'<!DOCTYPE s [<!ENTITY x SYSTEM "file:///etc/passwd">]><score-partwise>&x;',
    "external grammar.xml": HEAD + b'<!DOCTYPE s [<!ENTITY % x SYSTEM "http://127.0.0.1/"> %x;]><score-partwise/>',
    "bomb.mxl": packed(b"<a>" + b" " * (100 << 20)),
    "lying bomb.mxl": lying(),
    "bomb of another kind.mxl": packed(b" " * (50 << 20), zipfile.ZIP_BZIP2),
    "bomb of a third kind.mxl": packed(b" " * (20 << 20), zipfile.ZIP_LZMA),
    "many members.mxl": packed(b"<a/>", more=3000),
    "100 MB.musicxml": b"<score-partwise>" + b" " * (100 << 20),
    "many bars.musicxml": score((b"<measure>" + CHORD + NOTE * 4 + b"</measure>") * 4000),
    "one full bar.musicxml": score(b"<measure>" + NOTE * 99_999 + b"</measure>"),
    "many parts.musicxml": ROOT
    + b"".join(b"<part id='%d'><measure>%s</measure></part>" % (n, NOTE) for n in range(30_000)),
    "deep.musicxml": ROOT + b"<a>" * 500_000,
    "attributes.musicxml": HEAD + b"<score-partwise " + b" ".join(b"a%d='1'" % n for n in range(700_000)) + b"/>",
    "long text.musicxml": ROOT + b"<work><work-title>" + b"x" * (15 << 20),
    "long remark.musicxml": HEAD + b"<!--" + b"x" * (15 << 20) + b"--><score-partwise/>",
    "many names.musicxml": ROOT + b"".join(b"<t%d/>" % n for n in range(400_000)),
    "long bars.musicxml": score((b"<measure>" + CHORD + NOTE.replace(b">4<", b">250<") + b"</measure>") * 1500),
    "chords.musicxml": score((b"<measure>" + CHORD * 60 + NOTE + b"</measure>") * 1000),
    "jumps.musicxml": score((b"<measure>" + CHORD + NOTE + b"<sound dacapo='yes'/></measure>") * 1900),
    "character set.xml": b'<?xml version="1.0" encoding="punycode"?><score-partwise/>',
    "nothing.musicxml": b"",
    "no archive.mxl": b"PK\x03\x04",
    "words.musicxml": b"G   D\nSand and\n",
    "damaged.mxl": packed(score(b"<measure>" + CHORD + NOTE + b"</measure>"))[:-40],
}
# Odd values that scores may have: a song comes out, or a message; never a fault.
ZERO = b"<divisions>0</divisions><key><fifths>99</fifths></key><time><beats>0</beats><beat-type>0</beat-type></time>"
LENGTHS = [b"-4", b"NaN", b"1e400", b"9" * 9999, b"x", b""]
EMPTY = b"x<note/><harmony/><harmony><kind/></harmony><direction/><attributes/><barline/><backup/><note><pitch/></note>"
LYRICS = b"".join(b"<lyric number='%d'><text>la</text></lyric>" % n for n in range(300))


def sung(text: str) -> bytes:
    return NOTE.replace(b"</note>", b"<lyric><text>" + text.encode() + b"</text></lyric></note>")


def said_as(kind: str, text: str) -> bytes:
    return f"<direction><direction-type><{kind}>{text}</{kind}></direction-type></direction>".encode()


ODD = {
    "divisions": b"<attributes><divisions>1000000000</divisions></attributes>" + CHORD + NOTE,
    "zero": b"<attributes>" + ZERO + b"</attributes>" + CHORD + NOTE + b"<sound tempo='0'/>",
    "lengths": CHORD + b"".join(NOTE.replace(b">4<", b">%s<" % length) for length in LENGTHS),
    "ways": CHORD + NOTE + b"<backup><duration>-5</duration></backup><forward><duration>99999999</duration></forward>",
    "tempo": CHORD + NOTE + b"<sound tempo='1e9'/><sound tempo='-3'/><sound tempo='inf'/>",
    "text in the wrong places": b"text" + CHORD + b"text" + NOTE + EMPTY,
    "a long word": CHORD + sung("la" * 9999) * 9,
    "signs of ours": CHORD + sung("a\u202e|*-_\\ #") + said_as("words", "(,)|:| until x2 # bars 1-2"),
    "names": CHORD + NOTE + said_as("rehearsal", "(,)| until x2 bars 1-2"),
    "endings": b"<barline location='left'><ending number='9,8,1-7' type='start'/></barline>" + CHORD + NOTE
    + b"<barline><ending number='' type='stop'/><repeat direction='backward' times='999'/></barline>",
    "verses": CHORD + NOTE.replace(b"</note>", LYRICS + b"</note>"),
}  # fmt: skip


def _run(path: Path, said: Path) -> tuple[int, float, int]:
    """Run the command in a process of its own; give its status, its seconds and its bytes of memory."""
    here = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1]) * PAGE
    child = os.fork()
    if not child:
        status = 70
        try:
            with said.open("w", encoding="utf-8") as file:
                os.dup2(file.fileno(), 1)
                os.dup2(file.fileno(), 2)
                status = main(["convert", str(path)])
                sys.stdout.flush()
        finally:
            os._exit(status)
    _, ended, used = os.wait4(child, 0)
    return os.waitstatus_to_exitcode(ended), used.ru_utime + used.ru_stime, used.ru_maxrss * 1024 - here


@pytest.mark.skipif(sys.platform != "linux", reason="measured as Linux does")
@pytest.mark.parametrize("name", BAD)
def test_it_is_told_and_nothing_is_written(name, tmp_path, capfd):
    path = tmp_path / "in" / name
    path.parent.mkdir()
    path.write_bytes(BAD[name])
    with capfd.disabled():
        status, seconds, memory = _run(path, tmp_path / "said")
    said = (tmp_path / "said").read_text(encoding="utf-8")
    assert status == 1, said
    assert re.search(r": error score-[a-z-]+: expected [a-z].*, found [a-zA-Z0-9]", said)
    assert "Traceback" not in said
    assert [p.name for p in path.parent.iterdir()] == [name]
    assert seconds < SECONDS and memory < MEMORY, (seconds, memory >> 20)


@pytest.mark.parametrize("name", ODD)
def test_odd_values_become_a_song_or_a_message(name):
    made, problems = convert_score(score(b"<measure>" + ODD[name] + b"</measure>"))
    assert (made is None) == bool(problems)
    if made is not None:
        assert not [p for p in all_problems(Source.of("made.song.txt", made.text)) if p.severity == "error"]


def test_names_in_an_archive_lead_nowhere(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for place, name in enumerate(("../../evil.xml", "/etc/passwd.xml", "a\\..\\b.xml")):
        Path(f"{place}.mxl").write_bytes(packed(score(b"<measure>" + CHORD + NOTE + b"</measure>"), name=name))
        assert main(["convert", f"{place}.mxl"]) == 0
    assert sorted(p.name for p in tmp_path.iterdir()) == [
        f"{n}{end}" for n in range(3) for end in (".mxl", ".song.txt")
    ]
    assert not (tmp_path.parent.parent / "evil.xml").exists()


def test_a_grammar_elsewhere_is_not_read():
    """A DOCTYPE is normal; what it names is never opened, and a song comes out."""
    begun = b'<!DOCTYPE score-partwise SYSTEM "file:///dev/zero">'
    whole = score(b"<measure>" + CHORD + NOTE + b"</measure>")
    assert convert_score(whole.replace(HEAD, HEAD + begun))[0] is not None


@pytest.mark.parametrize("archive", [False, True])
def test_cut_at_every_byte(archive):
    whole = score(b"<measure>" + CHORD + NOTE + b"</measure>")
    whole = packed(whole) if archive else whole
    for end in range(len(whole)):
        made, problems = convert_score(whole[:end])
        assert made is None and [p.code for p in problems] == ["score-damaged"], end
    assert convert_score(whole)[0] is not None


def test_with_any_byte_changed():
    whole = score(b"<measure>" + CHORD + NOTE + b"</measure>")
    for data in (whole, packed(whole)):
        for place in range(0, len(data), 4):
            for other in (0, data[place] ^ 1, 255):
                made, problems = convert_score(data[:place] + bytes((other,)) + data[place + 1 :])
                assert (made is None) == bool(problems)


METERS = [(4, 4), (3, 4), (6, 8), (9, 8), (2, 2), (5, 4), (7, 8), (3, 8), (3, 16), (4, 1)]


@pytest.mark.parametrize("meter", METERS)
def test_pickups_and_parts_of_bars_of_every_length(meter):
    """Sixteenths of a bar before the first one and in an uncounted one: all become songs without a mistake."""
    whole = 16 * meter[0] // meter[1]

    def sounding(sixteenths: int) -> bytes:
        return NOTE.replace(b">4<", b">%d<" % sixteenths)

    for short in range(1, whole, 1 if whole < 20 else 5):
        time = b"<divisions>4</divisions><time><beats>%d</beats><beat-type>%d</beat-type></time>" % meter
        bars = b"<measure implicit='yes'><attributes>" + time + b"</attributes>" + sounding(short) + b"</measure>"
        bars += b"<measure>" + CHORD + sounding(whole) + b"</measure><measure>" + sounding(whole) + b"</measure>"
        bars += b"<measure implicit='yes'>" + sounding(short) + CHORD + b"</measure>"
        made, _ = convert_score(score(bars))
        assert made is not None
        assert not all_problems(Source.of("made.song.txt", made.text)), made.text
