"""`part`: makes the keys part of songs, as PDF."""

from __future__ import annotations

import argparse

from arranger.commands.making import make_each
from arranger.commands.wishes import wishes_of
from arranger.files import pdf_name
from arranger.pipeline import to_part


def run(options: argparse.Namespace) -> int:
    """Make PDFs. Songs with errors are told and left out; the others are made."""
    return make_each(options, pdf_name, wishes_of(options), to_part)
