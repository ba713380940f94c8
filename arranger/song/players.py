"""Who plays with the keys: what names of players mean, and words that change who plays.

Takes the players of a band as they are named, and remarks of the roadmap and cues; gives answers and changes. The one
table of players is `_KINDS`; what it does not list is an instrument that can hold harmony. Common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from functools import lru_cache

from arranger.song.model import BandChange, SongText

ALONE = "keys alone"
ALL = "all"

# The kinds of players by their words, the first that fits: a bass drum is a drum, a bass guitar a bass.
_KINDS = (
    ("keys", r"keys|keyboards?|piano|pianist"),
    ("drums", r"[^\W\d_]*drum[^\W\d_]*"),
    ("percussion", r"percussion(?:ist)?|caj[oó]n|tambourine|shaker|congas?|bongos?"),
    ("voices", r"voices?|vocals?|vocalists?|singers?|choir"),
    ("bass", r"(?:contra)?bass|bassist"),
    ("guitar", r"guitars?|guitarist"),
)
# Others of whom remarks and cues say that they are in or out.
_OTHERS = (
    r"strings?|violins?|fiddles?|violas?|cellos?|harps?|horns?|brass|trumpets?|trombones?|sax(?:es|ophones?)?|flutes?"
    r"|whistles?|clarinets?|oboes?|organ|accordion|harmonica|banjo|mandolin|ukulele"
)
_PARTED = r"(?i)\s+(?:and|with)\s+|\s*[&+/,]\s*"  # texts, compiled when first used
_NO_HARMONY = ("drums", "percussion", "voices")


@lru_cache(maxsize=256)  # names: several bands of them
def _kind(player: str) -> str:
    """Return the kind of one player; empty for any other instrument."""
    return next((kind for kind, words in _KINDS if re.search(rf"(?i)\b(?:{words})\b", player)), "")


def parted(player: str) -> tuple[str, ...]:
    """Return the players that stand under one name.

    >>> parted("bass and drums"), parted("lead guitar")
    (('bass', 'drums'), ('lead guitar',))
    """
    return tuple(filter(None, re.split(_PARTED, player.strip())))


def _kinds(band: Iterable[str]) -> set[str]:
    return {_kind(one) for player in band for one in parted(player)}


def plays_bass(band: Iterable[str]) -> bool:
    """Return whether somebody plays the bass.

    >>> plays_bass(["upright bass"]), plays_bass(["bass guitar"]), plays_bass(["guitar", "bass drum", "bass voice"])
    (True, True, False)
    """
    return "bass" in _kinds(band)


def plays_guitar(band: Iterable[str]) -> bool:
    """Return whether somebody plays chords on a guitar; a bass guitar plays no thirds.

    >>> plays_guitar(["acoustic guitar"]), plays_guitar(["bass guitar"])
    (True, False)
    """
    return "guitar" in _kinds(band)


def has_drums(band: Iterable[str]) -> bool:
    """Return whether a drummer gives the beat; hand percussion alone does not.

    >>> has_drums(["Drummer"]), has_drums(["shaker"])
    (True, False)
    """
    return "drums" in _kinds(band)


def holds_harmony(player: str) -> bool:
    """Return whether a player can hold chords or their notes: neither drums nor percussion nor singers.

    >>> holds_harmony("fiddle"), holds_harmony("vocals"), holds_harmony("vocals and guitar")
    (True, False, True)
    """
    return any(_kind(one) not in _NO_HARMONY for one in parted(player))


# What remarks and cues say of the band: each clause between commas is read whole or not at all, so that words which say
# more (`drums out at the fill`) change nothing.
_KEYS = rf"(?:the\s+)?(?:{dict(_KINDS)['keys']})"
_MANY = (
    r"(?:(?:the|first|second|lead|rhythm|acoustic|electric|upright|double|bass|backing)\s+)*"
    rf"(?:{'|'.join(words for _, words in _KINDS)}|{_OTHERS})"
)
_ALONE = (
    rf"(?:just\s+|only\s+)?{_KEYS}\s+(?:alone|only|by\s+themselves|by\s+itself)|(?:just|only)\s+{_KEYS}"
    r"|(?:the\s+)?band\s+(?:drops\s+|is\s+|goes\s+|lays\s+)?out"
)
_WHOLE = r"all|everybody|everyone|(?:the\s+)?(?:full\s+|whole\s+)?band"
_ALL_IN = (
    rf"(?:{_WHOLE})\s+(?:(?:is|are|comes?|joins?)\s+)?(?:back\s+)?in(?:\s+again)?"
    r"|(?:the\s+)?(?:full|whole)\s+band|everybody|everyone|tutti"
)
# Whoever is named in these is looked at afterwards: few texts have the verbs, and names take long to compile.
_OUT = (
    r"(?s)(?P<who>\S.*?)\s+(?:(?:is|are|drops?|lays?|stays?|goes|go)\s+)?(?:out|tacet|silent)"
    r"|(?:no|without)\s+(?P<not>\S.*)"
)
_IN = (
    r"(?s)(?P<who>\S.*?)"
    r"\s+(?:(?:(?:is|are|comes?|joins?)\s+)?(?:back\s+)?in(?:\s+again)?|(?:comes?\s+)?back|enters?|returns?)"
)
# A clause of these four (alone, all in, out, in) has one of these words by itself. Most remarks have none: then none of
# the four is compiled.
_TELLING = {
    "alone", "only", "themselves", "itself", "just", "band", "out", "in", "everybody", "everyone", "tutti", "tacet",
    "silent", "no", "without", "back", "enter", "enters", "return", "returns",
}  # fmt: skip
_LISTED = r"\s*(?:\band\b|\bor\b|\bnor\b|&|\+)\s*"
_ARTICLE = r"^the\s+"
LONGEST = 200  # characters of a cue that is looked at: those that change the band are short


def _names(text: str) -> tuple[str, ...]:
    """Return the players of a list, without the article; none where it names anything else."""
    parts = re.split(_LISTED, text)
    if not all(re.fullmatch(_MANY, part) for part in parts):
        return ()
    return tuple(re.sub(_ARTICLE, "", " ".join(part.split())) for part in parts)


def _names_before(clauses: Sequence[str]) -> tuple[str, ...]:
    """Return the players named in the last clauses, back to one that says anything else."""
    named: tuple[str, ...] = ()
    for clause in reversed(clauses):
        names = _names(clause)
        if not names:
            break
        named = (*names, *named)
    return named


def band_change(text: str) -> BandChange | None:
    """Return what a remark or a cue says of who plays, or None; clauses that say other things are passed over.

    >>> band_change("softer, bass and drums out")
    BandChange(keys_out=False, alone=False, out=('bass', 'drums'), all_in=False, keys_in=False, back=())
    >>> band_change("drums out at the fill") is None
    True
    """
    found = BandChange()
    nameless: list[str] = []  # clauses without a verb: before a comma, it may come later: `bass, drums out`
    for clause in re.split(r"\s*[,;.!]\s*", text[:LONGEST].casefold().strip()):
        if _TELLING.isdisjoint(clause.split()):
            nameless.append(clause)
            continue
        out, into = re.fullmatch(_OUT, clause), re.fullmatch(_IN, clause)
        if re.fullmatch(_ALONE, clause):
            found = BandChange(alone=True)
        elif re.fullmatch(_ALL_IN, clause):
            found = BandChange(all_in=True)
        elif out is not None and (names := _names(out["who"] or out["not"])):
            found = _went(found, (*(_names_before(nameless) if out["who"] else ()), *names))
        elif into is not None and (names := _names(into["who"])):
            found = _came(found, (*_names_before(nameless), *names))
        else:
            nameless.append(clause)
            continue
        nameless = []
    return None if found == BandChange() else found


def _went(before: BandChange, who: tuple[str, ...]) -> BandChange:
    keys = any(_kind(one) == "keys" for one in who)
    others = tuple(one for one in who if _kind(one) != "keys")
    return BandChange(
        keys_out=before.keys_out or keys,
        alone=before.alone,
        out=tuple(dict.fromkeys((*before.out, *others))),
        all_in=before.all_in,
        keys_in=before.keys_in and not keys,
        back=tuple(one for one in before.back if one not in others),
    )


def _came(before: BandChange, who: tuple[str, ...]) -> BandChange:
    keys = any(_kind(one) == "keys" for one in who)
    others = tuple(one for one in who if _kind(one) != "keys")
    return BandChange(
        keys_out=before.keys_out and not keys,
        alone=before.alone,
        out=tuple(one for one in before.out if one not in others),
        all_in=before.all_in,
        keys_in=before.keys_in or keys,
        back=tuple(dict.fromkeys((*before.back, *others))),
    )


def last_change(cues: Iterable[SongText]) -> BandChange | None:
    """Return what the last cue that speaks of the band says."""
    changes = [change for cue in cues if (change := band_change(cue.value)) is not None]
    return changes[-1] if changes else None


def _words(player: str) -> set[str]:
    return {word.removesuffix("s") for word in re.findall(r"[^\W\d_]+", player.casefold())}


def meant_by(name: str, band: Iterable[str]) -> tuple[str, ...]:
    """Return the players whom a name means: those whose own name has its words, else all of its kind.

    >>> meant_by("guitar", ["lead guitar", "bass"]), meant_by("double bass", ["bass and drums"])
    (('lead guitar',), ('bass',))
    >>> meant_by("guitar", ["bass guitar"])
    ()
    """
    players = [one for player in band for one in parted(player)]
    kind = _kind(name)
    found = [one for one in players if _words(name) <= _words(one) and kind in ("", _kind(one))]
    return tuple(found or (one for one in players if kind and _kind(one) == kind))


def band_with(change: BandChange, band: Sequence[str], whole: Sequence[str]) -> tuple[str, ...]:
    """Return who plays with the keys after a change.

    Args:
        change: what is said.
        band: who played before it.
        whole: the song's band, from which players come in; one who is not in it comes in as named.

    >>> band_with(BandChange(out=("drums",)), ("bass and drums", "fiddle"), ())
    ('bass', 'fiddle')
    """
    now = () if change.alone else whole if change.all_in else band
    silent = {one for name in change.out for one in meant_by(name, now)}
    left: list[str] = []
    for player in now:
        parts = parted(player)
        kept = tuple(one for one in parts if one not in silent)
        left += [player] if kept == parts else kept
    for name in change.back:
        if not meant_by(name, left):
            left += meant_by(name, whole) or [name]
    return tuple(dict.fromkeys(left))


def is_alone(text: str) -> bool:
    """Return whether a text says that the keys are alone.

    >>> is_alone("keys alone"), is_alone("Piano only"), is_alone("bass")
    (True, True, False)
    """
    return re.fullmatch(_ALONE, text.strip().casefold()) is not None


def own_band(players: Sequence[str], whole: Sequence[str]) -> tuple[str, ...]:
    """Return who plays with the keys in a section by its own `band` line.

    Args:
        players: as the line names them; `keys alone` is nobody, `all` is the song's band.
        whole: the song's band.
    """
    said = ", ".join(players)
    if is_alone(said):
        return ()
    if said.casefold() == ALL:
        return tuple(whole)
    return tuple(one for player in players for one in parted(player) if _kind(one) != "keys")
