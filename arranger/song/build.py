"""The song put together. Takes the sorted lines of a file; gives the Song."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from arranger.song import spellcheck
from arranger.song.facts import Line
from arranger.song.likeness import copy_rows, find_models
from arranger.song.lines import BROKEN_ROW, ROW, SECTION_WORDS, FileLines
from arranger.song.model import COMMON, Capo, Facts, Mark, Section, Song, Step, Text
from arranger.song.roadmap import check_order, folded, name_fault, read_roadmap
from arranger.song.sections import Draft, read_section
from arranger.song.transpose import moved_rows
from arranger.text.diagnostics import Fix
from arranger.text.problems import Problems, shown
from arranger.text.source import Source, Span
from arranger.theory.key import Key, Transposition
from arranger.theory.pitch import NoteName

_FACTS = ("tempo", "sound", "play", "dynamic", "suspensions", "octaves")  # taken over as they are
_DOTTED = Fraction(3, 2)  # the beat that is felt in 6/8, 9/8 and 12/8
_STAND_IN = Key(NoteName("C"))  # while a song without a key is read for what else is wrong


def build(source: Source, lines: FileLines, problems: Problems) -> Song:
    """Put a song together; where something is wrong, `problems` has it and the song is not to be used."""
    header = _header(lines, problems)
    facts = header.facts
    key = facts.get("key", _STAND_IN)
    drafts = [
        read_section(section, facts.get("meter", COMMON), facts.get("feel", "straight"), problems)
        for section in lines.sections
    ]
    _check_names(drafts, problems)
    capo = _capo(facts.get("capo"), key, problems) if "key" in facts else None
    models = find_models(drafts, problems)
    keys = [_section_key(i, drafts, models, key) for i in range(len(drafts))]
    for index, draft in enumerate(drafts):
        if index not in models:
            _settle(draft, keys[index], key, capo, problems)
    for index, model in models.items():
        copy_rows(drafts[index], drafts[model], keys[index], keys[model], problems)
    sections = tuple(_section(i, drafts, models, keys[i], facts) for i in range(len(drafts)))
    _check_tempos(header, drafts, sections, problems)
    written = [line for line in lines.header if line.word == "roadmap"]
    before = problems.errors
    steps = read_roadmap(written, sections, problems)
    whole = bool(written) and problems.errors == before  # what a broken roadmap leaves out is not known
    if not written:
        steps = tuple(Step(i, span=section.span) for i, section in enumerate(sections))
    _check_whole(source, lines, drafts, models, sections, steps, problems)
    check_order(steps, sections, whole, problems)
    return Song(
        source=source,
        title=facts.get("song", Text("")),
        key=key,
        meter=facts.get("meter", COMMON),
        sections=sections,
        roadmap=steps,
        roadmap_written=bool(written),
        tempo=facts.get("tempo"),
        feel=facts.get("feel", "straight"),
        capo=capo,
        band=facts.get("band", ()),
        start=facts.get("start"),
        words_by=facts.get("words"),
        music_by=facts.get("music"),
        rights=facts.get("rights"),
        language=facts.get("language"),
        copyist=facts.get("copyist"),
    )


def _header(lines: FileLines, problems: Problems) -> Draft:
    """Read the facts before the first section."""
    header = Draft("", Span(0, 0))
    for line in lines.header:
        if line.word == "roadmap":
            continue
        if line.word in (ROW, BROKEN_ROW) or line.word in SECTION_WORDS:
            _before_section(line, header, problems)
        else:
            header.take_fact(line, problems)
    end = lines.header[0].span if lines.header else Span(0, 0)
    if "song" not in header.spans and not lines.titled:
        problems.error(
            "missing-song", "expected the song's title, found none", end, "begin the file with `song` and the title"
        )
    if "key" not in header.spans:
        problems.error(
            "missing-key", "expected the song's key, found none", end, "write `key D` (or `key Bm`) under the title"
        )
    return header


def _before_section(line: Line, header: Draft, problems: Problems) -> None:
    if header.broken or line.word == BROKEN_ROW:
        return
    header.broken = True  # told once: all lines up to the first section have the same fault
    what = "a row of chords" if line.word == ROW else f"`{line.word}`"
    problems.error(
        "before-section",
        f"expected `section` and a name before {what}",
        Span(line.span.start, min(line.span.end, line.span.start + 40)),
        "write `section Verse 1` on a line of its own above",
    )


def _check_names(drafts: Sequence[Draft], problems: Problems) -> None:
    seen: dict[str, Draft] = {}
    for draft in drafts:
        fault = name_fault(draft.name)
        if fault:
            hint = "write a name such as `section Verse 1`"
            if "|" in draft.name:
                hint = "set the row of chords on the next line"
            problems.error("section-name", fault, draft.span, hint)
        elif folded(draft.name) in seen:
            problems.error(
                "section-twice",
                f"expected a name of its own for each section, found {shown(draft.name)} again",
                draft.span,
                "to play a section again, name it again in the `roadmap`",
                f"if its words differ, give it another name and write `like {draft.name}` under it",
            )
        else:
            seen[folded(draft.name)] = draft
        if draft.name.endswith(":") and not fault:
            bare = draft.name.rstrip(": ")
            end = Span(draft.span.start + len(bare), draft.span.end)
            problems.warning(
                "section-colon",
                f"expected a name without a colon, found {shown(draft.name)}",
                draft.span,
                f"write `section {bare}`, as the roadmap names it",
                fix=Fix(end, "") if bare else None,
            )


def _capo(capo: Capo | None, key: Key, problems: Problems) -> Capo | None:
    """Check that capo, shapes and key agree."""
    if capo is None:
        return None
    sounding = (capo.shapes.tonic.pitch_class + capo.fret) % 12
    if sounding == key.tonic.pitch_class and capo.shapes.minor == key.minor:
        return capo
    sounds = Key(capo.shapes.spelled(sounding), capo.shapes.minor)
    sounds = sounds if sounds.exists else sounds.enharmonic() or sounds
    fret = (key.tonic.pitch_class - capo.shapes.tonic.pitch_class) % 12
    shapes = Key(key.spelled((key.tonic.pitch_class - capo.fret) % 12), key.minor)
    hints = [f"write `key {sounds}` if that sounds"]
    if capo.shapes.minor == key.minor and fret:
        hints.append(f"write `capo {fret} in {capo.shapes}` if the shapes are in {capo.shapes}")
    if shapes.exists:
        hints.append(f"write `capo {capo.fret} in {shapes}` if the capo is at {capo.fret}")
    problems.error(
        "capo-disagrees",
        f"shapes in {capo.shapes.words} with a capo at {capo.fret} sound in {sounds.words}, but the key is {key.words}",
        capo.span,
        *hints,
    )
    return None


def _section_key(index: int, drafts: Sequence[Draft], models: Mapping[int, int], key: Key) -> Key:
    own: Key | None = drafts[index].facts.get("key")
    if own is None and index in models:
        own = drafts[models[index]].facts.get("key")
    return own or key


def _settle(draft: Draft, key: Key, song_key: Key, capo: Capo | None, problems: Problems) -> None:
    """Check the spelling of a section's own rows in the key they are written in, and make them sound."""
    written = Transposition(song_key, capo.shapes).key(key) if capo and song_key.minor == capo.shapes.minor else key
    spellcheck.check(draft.rows, written, problems)
    if capo is not None:
        draft.rows = list(moved_rows(tuple(draft.rows), Transposition(written, key), capo.fret))


def _section(
    index: int, drafts: Sequence[Draft], models: Mapping[int, int], key: Key, header: Mapping[str, Any]
) -> Section:
    draft = drafts[index]
    model = drafts[models[index]] if index in models else None
    # A section's own facts first, then its model's, then the header's.
    found = {**header, **(model.facts if model else {}), **draft.facts}
    facts = Facts(
        key=key,
        meter=found.get("meter", COMMON),
        feel=header.get("feel", "straight"),
        **{name: found[name] for name in _FACTS if name in found},
    )
    return Section(
        name=draft.name,
        facts=facts,
        rows=tuple(draft.rows),
        own=tuple(n for n in draft.facts if n in _FACTS or n in ("key", "meter")),
        pickup=draft.facts.get("pickup"),
        like=model.name if model else None,
        model=models.get(index),
        without_words=model is not None and draft.without_words,
        tacet="tacet" in draft.facts,  # never the model's: nothing could let the copy play again
        closing_cues=draft.closing,
        span=draft.span,
    )


def _check_tempos(header: Draft, drafts: Sequence[Draft], sections: Sequence[Section], problems: Problems) -> None:
    """Warn of a tempo in quarters that stands beside a meter whose felt beats are dotted ones."""
    stated = [(header.facts.get("tempo"), header.facts.get("meter", COMMON))]
    stated += [(draft.facts.get("tempo"), one.facts.meter) for draft, one in zip(drafts, sections, strict=True)]
    for tempo, meter in stated:
        if tempo is None or tempo.bpm is None or tempo.unit != 1 or meter.felt_beat != _DOTTED:
            continue
        to = "rit to " if tempo.gradual else ""
        problems.warning(
            "tempo-unit",
            f"expected a tempo in dotted quarters in {meter}, found quarters in {shown(f'tempo {tempo.text}')}",
            tempo.span,
            f"write `tempo {to}dotted {tempo.bpm}` if these are the beats that are felt",
        )


def _check_whole(
    source: Source,
    lines: FileLines,
    drafts: Sequence[Draft],
    models: Mapping[int, int],
    sections: Sequence[Section],
    steps: Sequence[Step],
    problems: Problems,
) -> None:
    """Check what only the whole song shows: that there is something to play, and that it does not begin with a push."""
    if not sections and not any(line.word in (ROW, BROKEN_ROW) for line in lines.header):
        last = len(source.text.rstrip())
        problems.error(
            "no-sections",
            "expected a section, found none",
            Span(max(0, last - 1), last),
            "write `section Verse 1`, and below it a row of chords: `| D | G |`",
        )
    for index, (draft, section) in enumerate(zip(drafts, sections, strict=True)):
        told = draft.broken or (index not in models and "like" in draft.spans)
        if not section.rows and not section.tacet and not told:
            problems.error(
                "empty-section",
                f"expected chords in {shown(draft.name)}, found none",
                draft.span,
                "write a row of chords: `| D | G |`, or `like` and the name of a section, or `tacet`",
            )
    first = next((m for step in steps for m in _first_marks(sections[step.section])), None)
    if first is not None and first.chord is not None and first.chord.push:
        problems.error(
            "push-at-start",
            "expected the song's first chord on its beat, found a push",
            first.span,
            "leave the `<` out; nothing sounds yet that could be cut short",
        )


def _first_marks(section: Section) -> Sequence[Mark]:
    """Return a section's first chord, if it has one that is played."""
    if section.tacet:
        return ()
    found = next((m for row in section.rows for bar in row.bars for m in bar.marks if m.chord), None)
    return (found,) if found else ()
