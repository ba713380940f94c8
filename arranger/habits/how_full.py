"""How full the keys play, which notes stay and who plays, in people's own words: textures, drones, bands of sections.

Takes what stands after a word of the notation and is not understood; gives a hint (which may be empty) and, where that
is certain, what the text means. Patterns are texts, compiled when first used: see slips.py.
"""

from __future__ import annotations

import re

from arranger.habits.signs import Guess, with_own_signs
from arranger.text.problems import Problems

_TEXTURE_WORDS = ("bare", "light", "full", "wide")
_TEXTURES = {
    "sparse": "bare", "empty": "bare", "naked": "bare", "minimal": "bare", "one note": "bare", "skeletal": "bare",
    "soft": "light", "gentle": "light", "delicate": "light", "airy": "light", "easy": "light",
    "thick": "full", "rich": "full", "fat": "full", "dense": "full", "strong": "full", "fuller": "full",
    "tutti": "full",
    "big": "wide", "huge": "wide", "broad": "wide", "grand": "wide", "massive": "wide", "wider": "wide", "open": "wide",
}  # fmt: skip
_RISE = r"(?i)(bare|light|full|wide)\s*(?:[<>]|->|→|\.\.\.?|…)\s*(bare|light|full|wide)"
_DASHED = r"(?i)(bare|light|full|wide)\s*[-–—]\s*(bare|light|full|wide)"
_LIST = r"(?i)(?:bare|light|full|wide)(?:\s*[,;/]\s*(?:bare|light|full|wide))+"
_TO_NOTHING = r"(?i)(?:from\s+)?(bare|light|full|wide)\s+to"


def texture(text: str, problems: Problems) -> Guess:
    """Return which of the four textures other words mean; `light > full` alone is certain.

    >>> texture("sparse", Problems())
    ('write `texture bare`: one or two keys', None)
    """
    word = " ".join(text.lower().split()).removesuffix(" texture")
    rise = re.fullmatch(_RISE, text)
    if rise is not None and rise[1].lower() != rise[2].lower():
        better = f"{rise[1]} to {rise[2]}".lower()
        return f"write `texture {better}`", better
    dashed = re.fullmatch(_DASHED, text)
    if dashed is not None and dashed[1].lower() != dashed[2].lower():
        return f"write `texture {dashed[1].lower()} to {dashed[2].lower()}`", None
    if re.fullmatch(_LIST, text):
        return "each pass has its own in the roadmap: `Bridge x3 (light, full, wide)`", None
    start = re.fullmatch(_TO_NOTHING, text)
    if start is not None:
        aim = "light" if start[1].lower() == "full" else "full"
        return f"name where it goes: `texture {start[1].lower()} to {aim}`", None
    if word == "thin":
        return "write `texture bare` for one or two keys, `texture light` for three", None
    meant = word if word in _TEXTURE_WORDS else _TEXTURES.get(word)
    meant = meant or next(iter(problems.nearest(word, _TEXTURE_WORDS)), "")
    keys = {
        "bare": "one or two keys",
        "light": "three keys",
        "full": "four keys",
        "wide": "four keys, and octaves below",
    }
    return (f"write `texture {meant}`: {keys[meant]}" if meant else "", None)


_DRONES = {
    "root": "tonic", "key note": "tonic", "keynote": "tonic", "1": "tonic", "i": "tonic", "dominant": "fifth",
    "5": "fifth", "5th": "fifth", "v": "fifth", "octave": "tonic",
}  # fmt: skip
_BOTH_DRONES = r"(?i)(?:the\s+)?(?:tonic|root|1)\s*(?:,|and|&|\+|/|\s)\s*(?:the\s+)?(?:fifth|5th|5)"
_NOTES_APART = r"[A-G](?:##?|bb?)?(?:\s*(?:,|&|\+|/|\band\b)\s*[A-G](?:##?|bb?)?)"


def drone(text: str) -> Guess:
    """Return which notes other words mean: with commas, small letters, octaves, or by their place in the key.

    >>> drone("D, A")
    ('write `drone D A`', 'D A')
    """
    plain = with_own_signs(text)
    better = "both" if re.fullmatch(_BOTH_DRONES, plain) else None
    if re.fullmatch(_NOTES_APART, plain):
        notes = re.findall(r"[A-G](?:##?|bb?)?", plain)
        better = " ".join(dict.fromkeys(notes))
    if better is not None:
        return f"write `drone {better}`", better
    meant = _DRONES.get(plain.lower())
    if meant is not None:
        return f"write `drone {meant}`, which moves with the key", None
    if plain.lower() in ("none", "no"):
        return "write `drone off`", "off"
    if re.fullmatch(r"(?:[A-G](?:##?|bb?)?-?[0-9]\s*)+", plain):
        return "the names alone: in which octave they lie is the hand's", None
    if re.fullmatch(r"[Hh]", plain):
        return "the note H is called B here: `drone B`", None
    if re.fullmatch(r"[a-g][#b]?(?:\s+[a-g][#b]?)*", plain):
        return f"begin with capital letters: `drone {' '.join(n[0].upper() + n[1:] for n in plain.split())}`", None
    return "", None


_WHOLE_BANDS = frozenset(("everybody", "everyone", "full band", "whole band", "the band", "the full band", "tutti"))
_NO_BANDS = frozenset(("none", "nobody", "no one", "no band", "alone", "nothing", "off"))


def band(text: str) -> Guess:
    """Return what a section's `band` means that names no player.

    >>> band("nobody")
    ('write `band keys alone`', 'keys alone')
    """
    word = " ".join(text.lower().split())
    if word in _WHOLE_BANDS:
        return "write `band all` for everybody in the song's band", "all"
    if word in _NO_BANDS:
        return "write `band keys alone`", "keys alone"
    return "", None
