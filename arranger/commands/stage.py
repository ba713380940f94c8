"""`stage`: makes copies of songs to play from, as PDF."""

from __future__ import annotations

import argparse

from arranger.commands.making import make_each
from arranger.commands.wishes import staging
from arranger.files import stage_name
from arranger.staging import StageCopy, to_stage


def run(options: argparse.Namespace) -> int:
    """Make PDFs. Songs with errors, or that cannot be read from so far, are told and left out; the others are made."""
    return make_each(options, stage_name, staging(options), to_stage, _legible)


def _legible(copy: StageCopy) -> str:
    return f", legible to {copy.reading.legible_to:g} m"
