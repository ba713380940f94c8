"""Lay out and write a stage copy: the last stages of the pipeline for it.

Beside the pipeline, not in it: who makes parts does not wait until all that makes stage copies is loaded.
"""

from __future__ import annotations

from dataclasses import dataclass

from arranger.harmony.model import Arrangement
from arranger.intake import Diagnostics, Wishes
from arranger.layout.model import Document
from arranger.layout.pages.stage_copy import Legibility, lay_out
from arranger.pdf.fonts import metrics
from arranger.pdf.write import to_bytes
from arranger.text.diagnostics import has_errors


@dataclass(frozen=True, slots=True)
class StageCopy:
    """A finished stage copy: the bytes of its PDF, how many pages it has, and how it reads."""

    pdf: bytes
    pages: int
    reading: Legibility


def to_stage_pages(arrangement: Arrangement, wishes: Wishes) -> tuple[Document | None, Diagnostics]:
    """Set the pages of a stage copy; None where they cannot be read or printed as they should be."""
    document, _, problems = lay_out(arrangement, metrics(wishes.stage.fonts), wishes.stage)
    return (None if has_errors(problems) else document), problems


def to_stage(arrangement: Arrangement, wishes: Wishes) -> tuple[StageCopy | None, Diagnostics]:
    """Set the pages of a stage copy and write them; None where they cannot be read or printed as they should be."""
    fonts = wishes.stage.fonts
    document, reading, problems = lay_out(arrangement, metrics(fonts), wishes.stage)
    if document is None or reading is None or has_errors(problems):
        return None, problems
    return StageCopy(to_bytes(document, fonts), reading.pages, reading), problems
