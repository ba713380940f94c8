"""Files that know themselves again."""

from __future__ import annotations

import hashlib

import pytest

from arranger.digests import as_made, sealed

ZEROS = b"0" * 64
KINDS = {
    "MIDI": b"MThd\0\0\0\6\0\1MTrk\0\0\0\0\xff\1digest " + ZEROS + b"\0\xff\3digest " + ZEROS,
    "MusicXML": b'<?xml version="1.0"?>\n<a><work-title>digest</work-title><identification><miscellaneous>'
    b'<miscellaneous-field name="digest">' + ZEROS + b"</miscellaneous-field></miscellaneous></identification></a>",
}


@pytest.mark.parametrize("kind", KINDS)
def test_a_file_has_the_digest_of_its_other_bytes(kind: str) -> None:
    """SHA-256 by the standard library, over the bytes with zeros for the digest itself."""
    data = sealed(KINDS[kind])
    assert data == KINDS[kind].replace(ZEROS, hashlib.sha256(KINDS[kind]).hexdigest().encode(), 1)
    assert as_made(data) and sealed(data) == data


@pytest.mark.parametrize("kind", KINDS)
def test_any_byte_that_is_changed_is_seen(kind: str) -> None:
    data = sealed(KINDS[kind])
    for place in range(len(data)):
        assert not as_made(data[:place] + bytes([data[place] ^ 1]) + data[place + 1 :]), place
    assert not as_made(data + b" ") and not as_made(data[:-1]) and not as_made(b"")


def test_other_files_have_no_place_for_a_digest() -> None:
    for data in (b"", b"MThd", b"<?xml?>", b"another file", b"%PDF-1.4"):
        with pytest.raises(ValueError, match="place for its digest"):
            sealed(data)
