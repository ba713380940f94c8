"""Read what stands before the notes of a score: title, people, rights, other printed texts, names of parts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from arranger.convert.score_file import Element, ScorePiece, bare, too_large
from arranger.convert.score_model import MOST_BARS, Score, ScorePart
from arranger.convert.score_parts import PartReader, plain_text
from arranger.convert.score_values import child, decimal, text_of_child

MOST_PARTS = 100
MOST_NOTES = 40_000  # of all parts; a song for choir and piano has some 5,000
MOST_CHORDS = 10_000
LONGEST_FACT = 200  # characters of a title or a name
MOST_CREDITS = 40


@dataclass(slots=True)
class ScoreReader:
    """Takes a score piece by piece. Mutable; lives while the score is read."""

    title: str = ""
    movement: str = ""
    people: dict[str, list[str]] = field(default_factory=dict)
    rights: list[str] = field(default_factory=list)
    credits: list[tuple[str, str, float]] = field(default_factory=list)  # kind, text, size of its type
    names: dict[str, str] = field(default_factory=dict)
    readers: dict[str, PartReader] = field(default_factory=dict)
    notes: int = 0
    chords: int = 0

    def take(self, piece: ScorePiece) -> None:
        """Take a piece of the head, or a bar."""
        name = bare(piece.element)
        if piece.part or name in ("measure", "part"):
            reader = self.readers.setdefault(piece.part, PartReader())
            reader.bar(piece.attributes, piece.element)
            self._check_size(reader)
        elif name == "work":
            self.title = _fact(text_of_child(piece.element, "work-title"))
        elif name == "movement-title":
            self.movement = _fact(piece.element.text or "")
        elif name == "identification":
            self._identification(piece.element)
        elif name == "credit":
            self._credit(piece.element)
        elif name == "part-list":
            for part in piece.element:
                if bare(part) == "score-part":
                    self.names[part.get("id", "")] = _fact(text_of_child(part, "part-name"))

    def _check_size(self, reader: PartReader) -> None:
        """Refuse a file with more than a song as soon as that is seen."""
        self.notes += len(reader.measures[-1].notes)
        self.chords += len(reader.measures[-1].chords)
        if len(reader.measures) > MOST_BARS:
            raise too_large(f"more than {MOST_BARS:,} bars")
        if len(self.readers) > MOST_PARTS or self.notes > MOST_NOTES or self.chords > MOST_CHORDS:
            raise too_large("far more")

    def _identification(self, element: Element) -> None:
        for one in element:
            text = _fact(one.text or "")
            if bare(one) == "creator" and text:
                self.people.setdefault(one.get("type", "composer").lower(), []).append(text)
            elif bare(one) == "rights" and text:
                self.rights.append(text)

    def _credit(self, element: Element) -> None:
        if element.get("page", "1") != "1" or len(self.credits) >= MOST_CREDITS:
            return
        words = [one for one in element if bare(one) == "credit-words"]
        text = _fact(" ".join(one.text or "" for one in words))
        if text:
            size = max((float(decimal(one.get("font-size")) or 0) for one in words), default=0.0)
            kind = child(element, "credit-type")
            self.credits.append(((kind.text or "").strip().lower() if kind is not None else "", text, size))

    def score(self) -> Score:
        """Return what was read."""
        title = self.title if self.title and self.movement in ("", self.title) else self.movement or self.title
        typed = {kind: text for kind, text, _ in reversed(self.credits)}
        if not title:
            largest = max((size for _, _, size in self.credits), default=0.0)
            title = typed.get("title", "") or next((t for _, t, size in self.credits if size == largest > 0), "")
        words = self._people("lyricist", "poet", "librettist", "author") or typed.get("lyricist", "")
        music = self._people("composer", "music") or typed.get("composer", "")
        arranged = self._people("arranger")
        music = f"{music}, arranged by {arranged}" if music and arranged else music or arranged
        rights = "; ".join(dict.fromkeys(self.rights)) or typed.get("rights", "")
        parts = [ScorePart(self.names.get(key, ""), tuple(one.measures)) for key, one in self.readers.items()]
        known = {
            self.title,
            self.movement,
            title,
            words,
            music,
            rights,
            *(p for all_ in self.people.values() for p in all_),
        }
        left = [
            text for kind, text, _ in self.credits if text not in known and kind != "page number" and not text.isdigit()
        ]
        if title != self.title and self.title:
            left.insert(0, self.title)
        return Score(
            title, words[:LONGEST_FACT], music[:LONGEST_FACT], rights[:LONGEST_FACT], tuple(parts), tuple(left)
        )

    def _people(self, *kinds: str) -> str:
        return ", ".join(dict.fromkeys(name for kind in kinds for name in self.people.get(kind, ())))


def _fact(text: str) -> str:
    return plain_text(text)[:LONGEST_FACT]


def score_of(pieces: Iterable[ScorePiece]) -> Score:
    """Read a score from its pieces.

    Raises:
        Refusal: it holds far more than a song.
    """
    reader = ScoreReader()
    for piece in pieces:
        reader.take(piece)
    return reader.score()
