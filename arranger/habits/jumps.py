"""Read jumps of printed music as sheets type them in many languages: `D.C. al Fine`, `from the sign to the coda`."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

Landmark = Literal["fine", "coda", "sign"]


@dataclass(frozen=True, slots=True)
class Jump:
    """Back to the top or to the sign, and from there to where: to `fine`, to the leap to the `coda`, or on (empty).

    `said` is how it was typed.
    """

    back: Literal["top", "sign"]
    until: Literal["fine", "coda", ""] = ""
    said: str = ""


_TOP = (
    r"d\.?\s?c\.?|da capo|(?:from|back to|to|repeat from) (?:the )?(?:top|beginning|start)|von (?:vorne|"
    r"anfang)(?: an)?|"
    r"vom anfang(?: an)?|(?:du|au|depuis le) début|desde el (?:principio|comienzo)|al principio|do (?:início|começo)|"
    r"dall['’]inizio|da cima|vanaf het begin|van(?:af)? voren af aan|från början|fra (?:starten|begyndelsen|toppen)|"
    r"alusta|od (?:początku|začátku)|с начала|от начала|з початку|dari awal|baştan|başa dön"
)
_SIGN = (
    r"d\.?\s?s\.?|dal segno|(?:from|back to|to|repeat from) (?:the )?(?:sign|segno|𝄋|§)|vom zeichen|(?:du|au) signe|"
    r"desde (?:el signo|la señal)|al signo|do sinal|dal segno|vanaf het teken|från tecknet|fra tegnet|od znaku|"
    r"со знака|от знака"
)
_FINE = r"fine?|end|the end|ende|schluss|zum schluss|final|fin|fim|slut|slutet|koniec|konec|конца|(?:the )?word fine"
_CODA = r"(?:the )?coda|la coda|kopf|coda-zeichen|𝄌|⊕|kody|коды"
_TO = (
    r"(?:al|to|till|until|bis(?: zu[rm]?)?|zu[rm]?|jusqu['’]?(?:à|au)?(?: la)?|à la|au|hasta(?: el| la)?|até(?: o| a)?|"
    r"a la|alla|fino a(?:lla|l)?|tot(?: de| het)?|naar(?: de| het)?|til(?:l)?|do|до|sampai|then|and|dann|e poi|poi|"
    r"puis)"
)
_JUMP = re.compile(
    rf"\W*(?:(?:repeat|play|sing|wdh\.?|go|then)\s+)?(?:(?P<top>{_TOP})|(?P<sign>{_SIGN}))"
    rf"(?:\W*\s(?:{_TO}\s*)+(?:(?P<fine>{_FINE})|(?P<coda>{_CODA})))?\W*",
    re.IGNORECASE,
)
# With whatever more is said: it leads nowhere that is known.
_NAMED = re.compile(
    r"[(\[]?(?:d\.?\s?[cs]\.?(?: al (?:coda|fine|segno))?|da capo.*|dal segno.*|fine)[.)\]]?", re.IGNORECASE
)
_WHICH_TIME = (
    r"(?:\W*(?:on |the )?(?:2nd|3rd|second|third|last)(?: time)?(?: only)?|\W*(?:beim )?2\. ?mal|\W*2a? ?(?:volta|vez)|"
    r"\W*2e fois)?"
)
_LANDMARKS: tuple[tuple[Landmark, re.Pattern[str]], ...] = (
    ("fine", re.compile(r"\W*(?:Fine|FINE|Fin|FIN)\W*")),
    ("coda", re.compile(rf"\W*(?:{_TO}\s*(?:{_CODA}){_WHICH_TIME}|[𝄌⊕])\W*", re.IGNORECASE)),
    ("sign", re.compile(r"\W*(?:(?:the )?(?:segno|sign|zeichen|signe|signo|señal)|[𝄋§])\W*", re.IGNORECASE)),
)


def jump_of(text: str) -> Jump | None:
    """Return where a line sends the player back to; None where it does not.

    >>> jump_of("D.C. al Fine"), jump_of("To the end of the day")
    (Jump(back='top', until='fine', said='D.C. al Fine'), None)
    """
    match = _JUMP.fullmatch(text.strip())
    if match is None:
        return None
    until: Literal["fine", "coda", ""] = "fine" if match["fine"] else "coda" if match["coda"] else ""
    return Jump("top" if match["top"] else "sign", until, text.strip())


def names_jump(text: str) -> bool:
    """Return whether a line names a jump or its end, though it may not say where to: `Da capo and fade`."""
    return _NAMED.fullmatch(text) is not None


def landmark_of(text: str) -> Landmark | None:
    """Return which place a mark is, for jumps to lead to or from; None where a text is none.

    >>> landmark_of("(Fine)"), landmark_of("to Coda 2nd time"), landmark_of("§"), landmark_of("fine")
    ('fine', 'coda', 'sign', None)
    """
    return next((what for what, pattern in _LANDMARKS if pattern.fullmatch(text.strip())), None)
