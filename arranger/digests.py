"""Recognise files that the program has made: each has the digest of its other bytes in itself.

Takes and gives bytes.
"""

from __future__ import annotations

import hashlib
import re

# What the program writes has a digest of its other bytes in it: a program that saves what somebody has changed in the
# file changes its bytes, and then the digest does not fit any more. A PDF has it in its trailer's /ID, both parts alike
# (ISO 32000-1, 14.4, leaves open how identifiers are made), a MIDI file in a text event, MusicXML in a field of its
# head. Each kind by how its files begin, behind what the digest is looked for, and where its digits stand (a pattern,
# compiled when first used).
_SEALS = (
    (b"%PDF-", b"\ntrailer", rb"/ID\s*\[<([0-9a-f]{32})><([0-9a-f]{32})>\]"),
    (b"MThd", b"MTrk", rb"digest ([0-9a-f]{64})"),
    (b"<?xml", b"<identification>", rb'<miscellaneous-field name="digest">([0-9a-f]{64})<'),
)


def sealed(data: bytes) -> bytes:
    """Return a PDF, a MIDI file or MusicXML with the digest of its other bytes in the digits that it has for it.

    The digest is SHA-256 in small hexadecimal digits, as many as there is room for, over the bytes with `0` in the
    place of each of them.

    Raises:
        ValueError: there is no place for a digest in it.
    """
    found = _place_of_digest(data)
    if found is None:
        raise ValueError("expected a file with a place for its digest")
    return _with_digits(data, found, _digest(data, found))


def as_made(data: bytes) -> bool:
    r"""Return whether a file is one that `sealed` gave, to the byte.

    >>> pdf = sealed(b"%PDF-1.4\ntrailer\n<< /ID [<" + b"0" * 32 + b"><" + b"0" * 32 + b">] >>\n%%EOF\n")
    >>> as_made(pdf), as_made(pdf + b"% a note"), as_made(b"another file")
    (True, False, False)
    """
    found = _place_of_digest(data)
    return found is not None and _with_digits(data, found, _digest(data, found)) == data


def _place_of_digest(data: bytes) -> re.Match[bytes] | None:
    for beginning, before, digits in _SEALS:
        if data.startswith(beginning):
            place = data.rfind(before) if beginning == b"%PDF-" else data.find(before)
            return re.compile(digits).search(data, place) if place >= 0 else None
    return None


def _digest(data: bytes, found: re.Match[bytes]) -> bytes:
    return hashlib.sha256(_with_digits(data, found, b"0" * 64)).hexdigest().encode("ascii")


def _with_digits(data: bytes, found: re.Match[bytes], digits: bytes) -> bytes:
    """Return a file with other digits in the place of its digest, or in both of its places."""
    parts, after = [], 0
    for group in range(1, found.re.groups + 1):
        start, end = found.span(group)
        parts += [data[after:start], digits[: end - start]]
        after = end
    return b"".join((*parts, data[after:]))
