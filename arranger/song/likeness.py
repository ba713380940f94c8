"""Sections that are `like` another. Takes the drafts; gives the copies their model's rows, in their own key."""

from __future__ import annotations

import re
from collections.abc import Sequence

from arranger.song.model import SungLine, Text
from arranger.song.problems import Problems, count, shown
from arranger.song.roadmap import folded
from arranger.song.sections import Draft, read_sing_line, with_words
from arranger.song.transpose import moved_rows
from arranger.theory.key import Key, Transposition

_IN_KEY = re.compile(r"(.+?),? (?:in|key)(?: key)?(?: of)? ([A-G][#b]?m?)", re.IGNORECASE)


def find_models(drafts: Sequence[Draft], problems: Problems) -> dict[int, int]:
    """Find each copy's model: index of the copy -> index of the model. Report names that lead nowhere."""
    indexes: dict[str, int] = {}
    for index, draft in enumerate(drafts):
        indexes.setdefault(folded(draft.name), index)
    models: dict[int, int] = {}
    for index, draft in enumerate(drafts):
        like = draft.facts.get("like")
        if like is None:
            continue
        model = indexes.get(folded(like.value))
        if model is None:
            near = problems.nearest(like.value, [d.name for d in drafts if d is not draft], 3)
            offered = f"did you mean {' or '.join(f'`{n}`' for n in near)}?" if near else ""
            moved = _IN_KEY.fullmatch(like.value)
            if "," in like.value:
                offered = "name one section, whose chords are taken"
            elif moved is not None and folded(moved[1]) in indexes:
                offered = f"write `like {moved[1]}`, and `key {moved[2]}` on the next line"
            problems.error(
                "unknown-section", f"expected the name of a section, found {shown(like.value)}", like.span, offered
            )
        elif model == index:
            problems.error(
                "like-itself", f"expected another section, found {shown(like.value)} itself", like.span,
                "name the section whose chords it takes",
            )  # fmt: skip
        elif "like" in drafts[model].spans:
            first = drafts[model].facts.get("like")
            problems.error(
                "like-of-like",
                f"expected a section with chords of its own, found {shown(like.value)}, which is `like` another itself",
                like.span,
                f"write `like {first.value}`" if first is not None and folded(first.value) in indexes else "",
            )
        else:
            models[index] = model
    return models


def copy_rows(draft: Draft, model: Draft, key: Key, model_key: Key, problems: Problems) -> None:
    """Give a copy its model's rows, moved where its key is another, with its own words and cues."""
    if not _agree(draft, model, key, model_key, problems):
        draft.broken = True
        return
    by = Transposition(model_key, key)
    rows = list(moved_rows(tuple(model.rows), by, by.semitones))
    lines, cues = _words(draft, model, problems)
    draft.rows = [with_words(row, tuple(lines[i]), tuple(cues[i])) for i, row in enumerate(rows)]
    draft.closing = model.closing + draft.closing
    if rows and not draft.sung and draft.closing[len(model.closing) :]:
        # No words of its own: its cues stand before nothing else than its first row.
        own = draft.closing[len(model.closing) :]
        draft.rows[0] = with_words(draft.rows[0], draft.rows[0].words, own)
        draft.closing = model.closing
    draft.broken = model.broken


def _agree(draft: Draft, model: Draft, key: Key, model_key: Key, problems: Problems) -> bool:
    span = draft.spans["like"]
    if key.minor != model_key.minor:
        problems.error(
            "like-other-mode",
            f"expected a {'minor' if model_key.minor else 'major'} key as in {shown(model.name)}, found {key.words}",
            draft.spans.get("key", span),
            "chords cannot be moved from major to minor: write this section's own rows",
        )
        return False
    meter, model_meter = draft.facts.get("meter"), model.facts.get("meter")
    if meter is not None and meter != model_meter and any(bar.meter != meter for row in model.rows for bar in row.bars):
        problems.error(
            "like-other-meter",
            f"expected the meter of {shown(model.name)}, found {meter}",
            meter.span,
            "the rows are taken with their meters: leave the line out, or write this section's own rows",
        )
        return False
    return True


def _words(draft: Draft, model: Draft, problems: Problems) -> tuple[list[list[SungLine]], list[list[Text]]]:
    """Lay the copy's `sing` rows on those of the model's rows that have words, in order."""
    lines: list[list[SungLine]] = [[] for _ in model.rows]
    cues: list[list[Text]] = [[] for _ in model.rows]
    sung_rows = [i for i, row in enumerate(model.rows) if row.words]
    verses = [i for i in sung_rows for _ in model.rows[i].words]
    # As many as the model has in all: each of its verses anew. Fewer: one for each row.
    targets = verses if len(draft.sung) == len(verses) else sung_rows
    if len(draft.sung) > len(targets) and not model.broken:
        line, _ = draft.sung[len(targets)]
        problems.error(
            "too-many-sing-rows",
            f"expected {count(len(targets), '`sing` row')} at most as in {shown(model.name)}, found {len(draft.sung)}",
            line.span,
            "a `sing` row here goes with a row of chords that has words in the model"
            if targets
            else f"{shown(model.name)} has no words: write this section's own rows of chords",
        )
    for (line, before), index in zip(draft.sung, targets, strict=False):
        cues[index].extend(before)
        sung = read_sing_line(line, model.places[index], problems)
        if sung is not None:
            lines[index].append(sung)
    return lines, cues
