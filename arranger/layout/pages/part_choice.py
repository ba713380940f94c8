"""Choose how a part looks: the fewest pages, then the largest look.

Sections that are played alike are drawn once where no page is turned back for that; two pages lie side by side.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from itertools import pairwise

from arranger.harmony.model import Arrangement
from arranger.layout import style
from arranger.layout.content.folding import Group, groups_of
from arranger.layout.content.how_played import drawn_order
from arranger.layout.options import PartOptions
from arranger.layout.pages.around import ALONE, Around
from arranger.layout.pages.least_pages import Bottoms, pages_at_least
from arranger.layout.pages.part_draft import Contents, PartDraft, drafted
from arranger.layout.style import Look
from arranger.layout.text import Metrics

FACING = 2  # pages that lie side by side: all of a part that has no more


class PartChoice:
    """Tries looks for one part."""

    def __init__(
        self, arrangement: Arrangement, options: PartOptions, metrics: Metrics, around: Around = ALONE
    ) -> None:
        self._options, self._around = options, around
        self._contents = Contents(arrangement, options, metrics)
        self._bottoms = Bottoms(metrics)
        self._looks = style.looks(options.hands)
        self._tried: dict[tuple[tuple[Group, ...], Look], PartDraft] = {}

    def around_with(self, around: Around) -> PartChoice:
        """Return the same with something else around the pages; what was measured is kept."""
        other = copy(self)
        other._around, other._tried = around, {}
        return other

    def best(self) -> PartDraft:
        """Return the draft with the largest look of those with the fewest pages, or with no more than are asked for.

        Where none has so few, that in the least look.
        """
        groups: tuple[Group, ...] = tuple((index,) for index in drawn_order(self._contents.arrangement))
        if self._options.verses == "together":
            groups = groups_of(self._contents.arrangement)
        draft = self._largest(groups)
        while draft.pages > FACING and (apart := self._apart(groups, draft)) != groups:
            turned = len(self._turned_back(draft))
            if len(self._turned_back(self.at(apart, draft.look))) >= turned:  # as many, where others are played again
                break
            other = self._largest(apart)
            if len(self._turned_back(other)) >= turned:
                break
            groups, draft = apart, other
        return draft

    def _largest(self, groups: tuple[Group, ...]) -> PartDraft:
        """Return the draft with the largest look of those with the fewest pages, or with so few as are asked for.

        The least look tells how few pages there may be; the others are tried from the largest down, but for those that
        cannot have so few. Looks in which the hands of a section stand both ways are for what none of the others can.
        """
        most = self._options.pages
        looks = [look for look in self._looks if not look.mixed]
        mixed = self._looks[len(looks) :]
        best = self._of_one_size(groups, looks[:2], most)
        if best is not None and most is None:
            if best.pages == 1 or not self._may_fit(groups, self._looks[-1], best.pages - 1):
                return best
            most = self.at(groups, looks[-1]).pages
            if mixed and most > 1 and self._may_fit(groups, mixed[-1], most - 1):
                fewer = self.at(groups, mixed[-1]).pages
                looks, most = (looks[:2], fewer) if fewer < most else (looks, most)
            best = best if best.pages <= most else None
        looks += mixed
        for number in range(2, len(looks), 2):
            if best is not None:
                return best
            best = self._of_one_size(groups, looks[number : number + 2], most)
        if best is None:
            return min((self.at(groups, look) for look in self._looks[-2:]), key=lambda draft: draft.pages)
        return best

    def _of_one_size(self, groups: tuple[Group, ...], looks: Sequence[Look], most: int | None) -> PartDraft | None:
        """Return the draft with the fewest pages, then the fewest broken rows; None where all have too many pages."""
        best: PartDraft | None = None
        for look in looks:
            if best is not None:
                most = best.pages if best.broken else best.pages - 1
            if most is None or self._may_fit(groups, look, most):
                draft = self.at(groups, look)
                if most is None or draft.pages <= most:
                    best = draft if best is None else min(best, draft, key=lambda one: (one.pages, one.broken))
        return best

    def _may_fit(self, groups: tuple[Group, ...], look: Look, most: int) -> bool:
        """Return whether a look may have so few pages, for all that is known of larger ones."""
        known = self._tried.get((groups, look))
        if known is not None:
            return known.pages <= most
        larger = [
            draft
            for (of, _), draft in self._tried.items()
            if of == groups and draft.look.size >= look.size and look.joined >= draft.look.joined
        ]
        return all(self.least_pages(draft, look) <= most for draft in reversed(larger))  # the last is most like it

    def least_pages(self, draft: PartDraft, look: Look) -> int:
        """Return how many pages the part needs in a look at least, for all that a draft in a larger one tells."""
        return pages_at_least(draft, look, self._contents.joined(draft, look), self._bottoms)

    def at(self, groups: tuple[Group, ...], look: Look) -> PartDraft:
        """Return the draft of a look, with sections drawn in groups."""
        known = self._tried.get((groups, look))
        if known is None:
            known = self._tried[groups, look] = drafted(self._contents, groups, look, self._around)
        return known

    def placed(self, draft: PartDraft) -> PartDraft:
        """Return a draft whose lines all have their own places in the song, as pages need them."""
        own = self._contents.own_lines(draft.groups, draft.look)
        return draft._replace(lines=own.lines, notes=own.notes)

    def _turned_back(self, draft: PartDraft) -> list[tuple[int, int]]:
        """Return between which sections a page is turned back, each pair as often as it is."""
        if draft.pages <= FACING:
            return []
        begun: dict[int, int] = {}
        ended: dict[int, int] = {}
        for page, here in enumerate(draft.plans):
            for line in draft.lines[here.first : here.end]:
                if not line.inside.line.texts:
                    begun.setdefault(line.inside.line.section, page)
                    ended[line.inside.line.section] = page
        drawn = {index: section.index for index, section in draft.sections.items()}
        played = [step.section for step in self._contents.arrangement.song.roadmap]
        return [(one, two) for one, two in pairwise(played) if begun[drawn[two]] < ended[drawn[one]]]

    def _apart(self, groups: tuple[Group, ...], draft: PartDraft) -> tuple[Group, ...]:
        """Return the groups without those sections for which a page is turned back to the drawing of another.

        But for those that would stand no farther on by themselves: they are written before what is played before them.
        """
        drawn = {index: section.index for index, section in draft.sections.items()}
        back = {two for one, two in self._turned_back(draft) if drawn[two] != two > drawn[one]}
        kept = [tuple(index for index in group if index not in back) for group in groups]
        place = drawn_order(self._contents.arrangement).index
        return tuple(sorted((*kept, *((index,) for index in back)), key=lambda group: place(group[0])))
