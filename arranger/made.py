"""The digest of itself that a written file carries: by it a file that nobody has changed since is known as ours.

A PDF has its digest in its trailer's /ID, both parts alike (ISO 32000-1, 14.4, leaves open how identifiers are made). A
viewer that saves what was written into the file changes its bytes, and then the digest does not fit any more.
"""

from __future__ import annotations

import hashlib
import re

_DIGITS = 32  # hexadecimal ones of each part: 128 bits, as the standard suggests
_IDENTIFIERS = re.compile(rb"/ID\s*\[<([0-9a-f]{%d})><([0-9a-f]{%d})>\]" % (_DIGITS, _DIGITS))
_TRAILER = b"\ntrailer"


def sealed(pdf: bytes) -> bytes:
    """Return a PDF with the digest of its other bytes as the identifiers of its trailer.

    Args:
        pdf: a file with one trailer, whose `/ID` has two parts of 32 small hexadecimal digits.

    Raises:
        ValueError: it has no such trailer.
    """
    found = _identifiers(pdf)
    if found is None:
        raise ValueError("expected a PDF whose trailer has two identifiers of 32 digits")
    return _with_identifiers(pdf, found, _digest(pdf, found))


def as_made(data: bytes) -> bool:
    r"""Return whether a file is a PDF that `sealed` gave, to the byte.

    >>> pdf = sealed(b"%PDF-1.4\ntrailer\n<< /ID [<" + b"0" * 32 + b"><" + b"0" * 32 + b">] >>\n%%EOF\n")
    >>> as_made(pdf), as_made(pdf + b"% a note"), as_made(b"another file")
    (True, False, False)
    """
    found = _identifiers(data)
    return found is not None and found[1] == found[2] == _digest(data, found)


def _identifiers(pdf: bytes) -> re.Match[bytes] | None:
    place = pdf.rfind(_TRAILER)
    return _IDENTIFIERS.search(pdf, place) if place >= 0 else None


def _digest(pdf: bytes, found: re.Match[bytes]) -> bytes:
    blank = _with_identifiers(pdf, found, b"0" * _DIGITS)
    return hashlib.sha256(blank).hexdigest()[:_DIGITS].encode("ascii")


def _with_identifiers(pdf: bytes, found: re.Match[bytes], digits: bytes) -> bytes:
    (first, end), (second, last) = found.span(1), found.span(2)
    return b"".join((pdf[:first], digits, pdf[end:second], digits, pdf[last:]))
