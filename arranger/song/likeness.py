"""Sections that are `like` another. Takes the drafts; gives the copies their model's rows, in their own key."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from arranger.song.model import SungLine, Text
from arranger.song.roadmap import folded
from arranger.song.sections import Draft, read_sing_line, with_words
from arranger.song.transpose import moved_rows
from arranger.text.diagnostics import Fix
from arranger.text.problems import Problems, count, shown
from arranger.theory.key import Key, Transposition

_IN_KEY = re.compile(r"(.+?),? (?:in|key)(?: key)?(?: of)? ([A-G][#b]?m?)", re.IGNORECASE)
_WITHOUT = " without words"
_LOOSELY_WITHOUT = re.compile(
    r"[ ,]*(?<=[ ,])\(? ?(?:(?:without|no|w/o|minus) (?:the |any )?(?:words?|lyrics?|text|singing|vocals?)"
    r"|wordless|(?P<unsure>instrumental)) ?\)?$",
    re.IGNORECASE,
)
_TAIL = 48  # characters at the end of a `like` line in which these words are looked for


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
        name, draft.without_words = _taken_from(like.value, indexes)
        model = indexes.get(folded(name))
        if model is None:
            _unknown(like, name, [d.name for d in drafts if d is not draft], indexes, problems)
        elif model == index:
            problems.error(
                "like-itself", f"expected another section, found {shown(name)} itself", like.span,
                "name the section whose chords it takes",
            )  # fmt: skip
        elif "like" in drafts[model].spans:
            first = drafts[model].facts.get("like")
            problems.error(
                "like-of-like",
                f"expected a section with chords of its own, found {shown(name)}, which is `like` another itself",
                like.span,
                f"write `like {first.value}`"
                if first is not None and folded(_taken_from(first.value, indexes)[0]) in indexes
                else "",
            )
        else:
            models[index] = model
    return models


def _taken_from(text: str, indexes: Mapping[str, int]) -> tuple[str, bool]:
    """Return the name of the model after `like`, and whether its words are left out."""
    if folded(text) in indexes or not folded(text).endswith(_WITHOUT):
        return text, False
    return " ".join(text.split())[: -len(_WITHOUT)], True


def _unknown(like: Text, name: str, others: list[str], indexes: Mapping[str, int], problems: Problems) -> None:
    """Report a name after `like` that no section has."""
    near = problems.nearest(name, others, 3)
    hint = f"did you mean {' or '.join(f'`{n}`' for n in near)}?" if near else ""
    moved = _IN_KEY.fullmatch(like.value)
    squeezed = " ".join(like.value.split())
    wordless = _LOOSELY_WITHOUT.search(squeezed[-_TAIL:])
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


def copy_rows(draft: Draft, model: Draft, key: Key, model_key: Key, problems: Problems) -> None:
    """Lay a model's rows into a copy, moved where its key is another, with the copy's own cues.

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
