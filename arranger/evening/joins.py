"""Put together how each song of an evening leads to the next."""

from __future__ import annotations

from collections.abc import Sequence

from arranger.evening.in_common import (
    common_scale_notes,
    common_triad_notes,
    pad_choices,
    tempo_relation,
    vamp,
    ways,
)
from arranger.evening.model import EveningBreak, EveningSong, SongJoin
from arranger.evening.passing import passing
from arranger.harmony.manners import TIME_NEEDED
from arranger.harmony.taste import Taste
from arranger.song.running_order import Onward, OrderedBreak, OrderedSong, RunningOrder

FIRST = Onward()


def breaks_after(order: RunningOrder) -> tuple[tuple[EveningBreak, ...], tuple[tuple[EveningBreak, ...], ...]]:
    """Return the breaks before the first song, and those after each song, in order."""
    before: list[EveningBreak] = []
    after: list[list[EveningBreak]] = []
    for item in order.items:
        if isinstance(item, OrderedSong):
            after.append([])
        else:
            (after[-1] if after else before).append(_break(item))
    return tuple(before), tuple(map(tuple, after))


def _break(item: OrderedBreak) -> EveningBreak:
    return EveningBreak(item.text, item.onward)


def join(
    before: EveningSong,
    after: EveningSong,
    onward: Onward,
    breaks: Sequence[EveningBreak],
    taste: Taste,
) -> SongJoin:
    """Return how one song leads to the next.

    Args:
        before: the song that ends.
        after: the one that follows.
        onward: how the first goes on.
        breaks: what lies between the two.
        taste: the player's limits, for the hands of chords between them.
    """
    one, two = before.last, after.first
    kinds = {onward.kind, *(each.onward.kind for each in breaks)}
    chosen = next((each.onward.way for each in reversed(breaks) if each.onward.way), onward.way)
    goes_on = "stop" not in kinds
    # Over a break hands are free, and a break is gone over by a pad or by nothing.
    leads = goes_on and not breaks
    pads = pad_choices(one.key, two.key) if goes_on else ()
    talked = "talk" in kinds
    sound = two.sound.text if two.sound is not None else ""
    call = sound if one.sound is None or one.sound.text != sound else ""
    return SongJoin(
        before,
        after,
        onward,
        tuple(breaks),
        goes_on=goes_on,
        triads=common_triad_notes(one.key, two.key) if goes_on else (),
        scales=common_scale_notes(one.key, two.key) if goes_on else (),
        pad=pads[0] if pads else None,
        ways=ways(one.key, two.key) if goes_on and not chosen else (),
        written=passing(chosen, one, two, taste) if leads or chosen else (),
        tempo=tempo_relation(one.tempo, one.meter, two.tempo, two.meter) if goes_on else "",
        vamp=vamp(two.key) if talked else (),
        vamp_pad=two.key.tonic if talked else None,
        call=call,
        call_time=_free(before, onward, bool(breaks)) if call else "",
    )


def opening(after: EveningSong, breaks: Sequence[EveningBreak]) -> SongJoin:
    """Return how the evening begins: its first song after nothing."""
    sound = after.first.sound.text if after.first.sound is not None else ""
    return SongJoin(None, after, FIRST, tuple(breaks), call=sound, call_time="before it begins" if sound else "")


def _free(before: EveningSong, onward: Onward, broken: bool) -> str:
    """Return when a hand is free to call up another sound."""
    if broken or onward.kind == "stop":
        return "in the silence"
    if onward.kind == "talk":
        return "while somebody speaks"
    if before.last.bars:
        return f"in the last {before.last.bars} bars" if before.last.bars > 1 else "in the last bar"
    if before.last.seconds >= TIME_NEEDED:
        return f"over the last chord, {float(before.last.seconds):.1f} s"
    return f"no hand is free: the last chord has {float(before.last.seconds):.1f} s"
