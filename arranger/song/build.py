"""Put the Song together from the sorted lines of a file.

A section that is `like` another takes its model's rows, in its own key.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from arranger.song.drones import WrittenDrone, check_drone, moved_drone
from arranger.song.model import COMMON, Capo, Drone, Facts, Section, Song, SongText, Step, SungLine
from arranger.song.own_band import check_own_band, song_band
from arranger.song.players import own_band
from arranger.song.roadmap import check_order, folded, name_fault, read_roadmap
from arranger.song.sections import SectionDraft, read_section, read_sing_line, with_feel, with_words
from arranger.song.song_line import SongLine
from arranger.song.song_lines import BROKEN_ROW, ROW, SECTION_WORDS, FileLines
from arranger.song.spelling import check_spelling
from arranger.song.transpose import moved_rows
from arranger.text.diagnostics import Fix
from arranger.text.problems import Problems, count, shown
from arranger.text.source import Source, Span
from arranger.theory.key import Key, Transposition
from arranger.theory.pitch import NoteName

_IN_KEY = r"(?i)(.+?),? (?:in|key)(?: key)?(?: of)? ([A-G][#b]?m?)"
_WITHOUT = " without words"
_LOOSELY_WITHOUT = (
    r"(?i)[ ,]*(?<=[ ,])\(? ?(?:(?:without|no|w/o|minus) (?:the |any )?(?:words?|lyrics?|text|singing|vocals?)"
    r"|wordless|(?P<unsure>instrumental)) ?\)?$"
)
_TAIL = 48  # characters at the end of a `like` line in which these words are looked for


def find_models(drafts: Sequence[SectionDraft], problems: Problems) -> dict[int, int]:
    """Find the section that each `like` copies: index of the copy -> index of its model. Report unknown names."""
    indexes: dict[str, int] = {}
    for index, draft in enumerate(drafts):
        indexes.setdefault(folded(draft.name), index)
    models: dict[int, int] = {}
    for index, draft in enumerate(drafts):
        like = draft.facts.get("like")
        if like is None:
            continue
        name, draft.without_words = _taken_from(like.value, indexes)
        model = indexes.get(folded(name))
        if model is None:
            _unknown(like, name, [d.name for d in drafts if d is not draft], indexes, problems)
        elif model == index:
            message = f"expected another section, found {shown(name)} itself"
            problems.error("like-itself", message, like.span, "name the section whose chords it takes")
        elif "like" in drafts[model].spans:
            first = drafts[model].facts.get("like")
            known = first if first and folded(_taken_from(first.value, indexes)[0]) in indexes else None
            message = f"expected a section with chords of its own, found {shown(name)}, which is `like` another itself"
            problems.error("like-of-like", message, like.span, f"write `like {known.value}`" if known else "")
        else:
            models[index] = model
    return models


def _taken_from(text: str, indexes: Mapping[str, int]) -> tuple[str, bool]:
    """Return the name of the model after `like`, and whether its words are left out."""
    if folded(text) in indexes or not folded(text).endswith(_WITHOUT):
        return text, False
    return " ".join(text.split())[: -len(_WITHOUT)], True


def _unknown(like: SongText, name: str, others: list[str], indexes: Mapping[str, int], problems: Problems) -> None:
    """Report a name after `like` that no section has."""
    near = problems.nearest(name, others, 3)
    hint = f"did you mean {' or '.join(f'`{n}`' for n in near)}?" if near else ""
    moved = re.fullmatch(_IN_KEY, like.value)
    squeezed = " ".join(like.value.split())
    wordless = re.search(_LOOSELY_WITHOUT, squeezed[-_TAIL:])
    bare = squeezed[: -len(wordless[0])] if wordless is not None else ""
    fix = None
    if wordless is not None and folded(bare) in indexes:
        name, better = like.value, bare + _WITHOUT
        hint = f"write `like {better}`"
        fix = None if wordless["unsure"] else Fix(like.span, better)
    elif moved is not None and folded(_taken_from(moved[1], indexes)[0]) in indexes:
        hint = f"write `like {moved[1]}`, and `key {moved[2]}` on the next line"
    elif "," in like.value:
        hint = "name one section, whose chords are taken"
    problems.error("unknown-section", f"expected the name of a section, found {shown(name)}", like.span, hint, fix=fix)


def copy_rows(draft: SectionDraft, model: SectionDraft, key: Key, model_key: Key, problems: Problems) -> None:
    """Return a copy's rows: its model's, transposed where its key is another, with the copy's own words and cues.

    Its words are its own; where it has no `sing` rows, its model's with their pickup, unless it is `without words`.
    """
    if not _agree(draft, model, key, model_key, problems):
        draft.broken = True
        return
    by = Transposition(model_key, key)
    rows = list(moved_rows(tuple(model.rows), by, by.semitones))
    lines, cues = _words(draft, model, problems)
    if not draft.sung and not draft.without_words:
        lines = [list(row.words) for row in rows]
        if "pickup" in model.facts:
            draft.facts.setdefault("pickup", model.facts["pickup"])
    draft.rows = [with_words(row, tuple(lines[i]), tuple(cues[i])) for i, row in enumerate(rows)]
    draft.closing = model.closing + draft.closing
    if rows and not draft.sung and draft.closing[len(model.closing) :]:
        # No words of its own: its cues stand before nothing else than its first row.
        own = draft.closing[len(model.closing) :]
        draft.rows[0] = with_words(draft.rows[0], draft.rows[0].words, own)
        draft.closing = model.closing
    draft.broken = model.broken


def _agree(draft: SectionDraft, model: SectionDraft, key: Key, model_key: Key, problems: Problems) -> bool:
    if key.minor != model_key.minor:
        mode = "minor" if model_key.minor else "major"
        message = f"expected a {mode} key as in {shown(model.name)}, found {key.words}"
        hint = "chords cannot be moved from major to minor: write this section's own rows"
        problems.error("like-other-mode", message, draft.spans.get("key", draft.spans["like"]), hint)
        return False
    meter, model_meter = draft.facts.get("meter"), model.facts.get("meter")
    if meter is not None and meter != model_meter and any(bar.meter != meter for row in model.rows for bar in row.bars):
        message = f"expected the meter of {shown(model.name)}, found {meter}"
        hint = "the rows are taken with their meters: leave the line out, or write this section's own rows"
        problems.error("like-other-meter", message, meter.span, hint)
        return False
    return True


def _words(
    draft: SectionDraft, model: SectionDraft, problems: Problems
) -> tuple[list[list[SungLine]], list[list[SongText]]]:
    """Lay the copy's `sing` rows on those of the model's rows that have words, in order."""
    lines: list[list[SungLine]] = [[] for _ in model.rows]
    cues: list[list[SongText]] = [[] for _ in model.rows]
    sung_rows = [i for i, row in enumerate(model.rows) if row.words]
    verses = [i for i in sung_rows for _ in model.rows[i].words]
    # As many as the model has in all: each of its verses anew. Fewer: one for each row.
    targets = verses if len(draft.sung) == len(verses) else sung_rows
    if len(draft.sung) > len(targets) and not model.broken:
        line, _ = draft.sung[len(targets)]
        most = count(len(targets), "`sing` row")
        message = f"expected {most} at most as in {shown(model.name)}, found {len(draft.sung)}"
        hint = f"{shown(model.name)} has no words: write this section's own rows of chords"
        if targets:
            hint = "a `sing` row here goes with a row of chords that has words in the model"
        problems.error("too-many-sing-rows", message, line.span, hint)
    for (line, before), index in zip(draft.sung, targets, strict=False):
        cues[index].extend(before)
        sung = read_sing_line(line, model.places[index], problems)
        if sung is not None:
            lines[index].append(sung)
    return lines, cues


_FACTS = ("tempo", "feel", "sound", "play", "dynamic", "texture", "suspensions", "octaves")  # taken over as they are
_WORKED_OUT = ("key", "meter", "band", "drone")
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
            _make_sound(draft, keys[index], key, capo, problems)
    for index, model in models.items():
        copy_rows(drafts[index], drafts[model], keys[index], keys[model], problems)
        if "feel" in drafts[index].facts:
            feel = drafts[index].facts["feel"]
            drafts[index].rows = with_feel(drafts[index].rows, feel, drafts[index].spans["feel"], problems)
    for draft in drafts:
        check_own_band(draft.facts.get("band"), draft.spans.get("band"), facts.get("band", ()), problems)
    sections = tuple(_section(i, drafts, models, keys, facts) for i in range(len(drafts)))
    for draft, section in zip(drafts, sections, strict=True):
        if section.facts.drone is not None and "drone" in draft.facts and "key" in facts:
            check_drone(section.facts.drone, section.rows, section.facts.key, capo, problems)
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
        title=facts.get("song", SongText("")),
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


def _header(lines: FileLines, problems: Problems) -> SectionDraft:
    """Read the facts before the first section."""
    header = SectionDraft("", Span(0, 0))
    for line in lines.header:
        if line.word == "roadmap":
            continue
        if line.word in (ROW, BROKEN_ROW) or line.word in SECTION_WORDS:
            _before_section(line, header, problems)
        else:
            header.take_fact(line, problems)
    if "band" in header.facts:
        header.facts["band"] = song_band(header.facts["band"], header.spans["band"], problems)
    end = lines.header[0].span if lines.header else Span(0, 0)
    if "song" not in header.spans and not lines.titled:
        hint = "begin the file with `song` and the title"
        problems.error("missing-song", "expected the song's title, found none", end, hint)
    if "key" not in header.spans:
        hint = "write `key D` (or `key Bm`) under the title"
        problems.error("missing-key", "expected the song's key, found none", end, hint)
    return header


def _before_section(line: SongLine, header: SectionDraft, problems: Problems) -> None:
    if header.broken or line.word == BROKEN_ROW:
        return
    header.broken = True  # told once: all lines up to the first section have the same fault
    what = "a row of chords" if line.word == ROW else f"`{line.word}`"
    message = f"expected `section` and a name before {what}"
    hint = "write `section Verse 1` on a line of its own above"
    problems.error("before-section", message, Span(line.span.start, min(line.span.end, line.span.start + 40)), hint)


def _check_names(drafts: Sequence[SectionDraft], problems: Problems) -> None:
    seen: dict[str, SectionDraft] = {}
    for draft in drafts:
        fault = name_fault(draft.name)
        if fault:
            in_row = "|" in draft.name
            hint = "set the row of chords on the next line" if in_row else "write a name such as `section Verse 1`"
            problems.error("section-name", fault, draft.span, hint)
        elif folded(draft.name) in seen:
            message = f"expected a name of its own for each section, found {shown(draft.name)} again"
            again = "to play a section again, name it again in the `roadmap`"
            other = f"if its words differ, give it another name and write `like {draft.name}` under it"
            problems.error("section-twice", message, draft.span, again, other)
        else:
            seen[folded(draft.name)] = draft
        if draft.name.endswith(":") and not fault:
            bare = draft.name.rstrip(": ")
            end = Span(draft.span.start + len(bare), draft.span.end)
            message = f"expected a name without a colon, found {shown(draft.name)}"
            other = f"write `section {bare}`, as the roadmap names it"
            problems.warning("section-colon", message, draft.span, other, fix=Fix(end, "") if bare else None)


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
    played = f"shapes in {capo.shapes.words} with a capo at {capo.fret} sound in {sounds.words}"
    problems.error("capo-disagrees", f"{played}, but the key is {key.words}", capo.span, *hints)
    return None


def _section_key(index: int, drafts: Sequence[SectionDraft], models: Mapping[int, int], key: Key) -> Key:
    own: Key | None = drafts[index].facts.get("key")
    if own is None and index in models:
        own = drafts[models[index]].facts.get("key")
    return own or key


def _make_sound(draft: SectionDraft, key: Key, song_key: Key, capo: Capo | None, problems: Problems) -> None:
    """Check the spelling of a section's own rows in the key they are written in, and make them sound."""
    written = Transposition(song_key, capo.shapes).key(key) if capo and song_key.minor == capo.shapes.minor else key
    check_spelling(draft.rows, written, problems)
    if capo is not None:
        draft.rows = list(moved_rows(tuple(draft.rows), Transposition(written, key), capo.fret))


def _section(
    index: int,
    drafts: Sequence[SectionDraft],
    models: Mapping[int, int],
    keys: Sequence[Key],
    header: Mapping[str, Any],
) -> Section:
    draft = drafts[index]
    model = drafts[models[index]] if index in models else None
    # A section's own facts first, then its model's, then the header's.
    found = {**header, **(model.facts if model else {}), **draft.facts}
    whole = header.get("band", ())
    facts = Facts(
        key=keys[index],
        meter=found.get("meter", COMMON),
        band=whole if found.get("band", whole) is whole else own_band(found["band"], whole),
        drone=_drone(index, drafts, models, keys),
        **{name: found[name] for name in _FACTS if name in found},
    )
    return Section(
        name=draft.name,
        facts=facts,
        rows=tuple(draft.rows),
        own=tuple(n for n in draft.facts if n in (*_FACTS, *_WORKED_OUT)),
        pickup=draft.facts.get("pickup"),
        like=model.name if model else None,
        model=models.get(index),
        without_words=model is not None and draft.without_words,
        tacet="tacet" in draft.facts,  # never the model's: nothing could let the copy play again
        closing_cues=draft.closing,
        span=draft.span,
    )


def _drone(index: int, drafts: Sequence[SectionDraft], models: Mapping[int, int], keys: Sequence[Key]) -> Drone | None:
    """Return a section's own drone, or its model's in the section's key."""
    own: WrittenDrone | None = drafts[index].facts.get("drone")
    if own is not None:
        return own.in_key(keys[index])
    model = models.get(index)
    taken: WrittenDrone | None = None if model is None else drafts[model].facts.get("drone")
    if model is None or taken is None:
        return None
    return moved_drone(taken.in_key(keys[model]), Transposition(keys[model], keys[index]))


def _check_tempos(
    header: SectionDraft, drafts: Sequence[SectionDraft], sections: Sequence[Section], problems: Problems
) -> None:
    """Warn of a tempo in quarters that stands beside a meter whose felt beats are dotted ones."""
    stated = [(header.facts.get("tempo"), header.facts.get("meter", COMMON))]
    stated += [(draft.facts.get("tempo"), one.facts.meter) for draft, one in zip(drafts, sections, strict=True)]
    for tempo, meter in stated:
        if tempo is None or tempo.bpm is None or tempo.unit != 1 or meter.felt_beat != _DOTTED:
            continue
        to = "rit to " if tempo.gradual else ""
        message = f"expected a tempo in dotted quarters in {meter}, found quarters in {shown(f'tempo {tempo.text}')}"
        hint = f"write `tempo {to}dotted {tempo.bpm}` if these are the beats that are felt"
        problems.warning("tempo-unit", message, tempo.span, hint)


def _check_whole(
    source: Source,
    lines: FileLines,
    drafts: Sequence[SectionDraft],
    models: Mapping[int, int],
    sections: Sequence[Section],
    steps: Sequence[Step],
    problems: Problems,
) -> None:
    """Check what only the whole song shows: that there is something to play, and that it does not begin with a push."""
    if not sections and not any(line.word in (ROW, BROKEN_ROW) for line in lines.header):
        last = len(source.text.rstrip())
        message = "expected a section, found none"
        hint = "write `section Verse 1`, and below it a row of chords: `| D | G |`"
        problems.error("no-sections", message, Span(max(0, last - 1), last), hint)
    for index, (draft, section) in enumerate(zip(drafts, sections, strict=True)):
        told = draft.broken or (index not in models and "like" in draft.spans)
        if not section.rows and not section.tacet and not told:
            message = f"expected chords in {shown(draft.name)}, found none"
            hint = "write a row of chords: `| D | G |`, or `like` and the name of a section, or `tacet`"
            problems.error("empty-section", message, draft.span, hint)
    played = (bar for step in steps if not sections[step.section].tacet for bar in sections[step.section].bars)
    first = next((mark.chord for bar in played for mark in bar.marks if mark.chord is not None), None)
    if first is not None and first.push:
        message = "expected the song's first chord on its beat, found a push"
        hint = "leave the `<` out; nothing sounds yet that could be cut short"
        problems.error("push-at-start", message, first.span, hint)
