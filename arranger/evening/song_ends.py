"""Take from an arrangement what an evening needs of a song: its facts, its playing time, its first and last hands."""

from __future__ import annotations

from fractions import Fraction

from arranger.evening.model import EveningSong, SongEnd
from arranger.harmony.model import Arrangement, Heard
from arranger.harmony.timeline import seconds
from arranger.song.players import holds_harmony
from arranger.sounding.passes import passes
from arranger.sounding.tempo_map import TempoClock, is_free, tempi


def evening_song(arrangement: Arrangement, number: int) -> EveningSong:
    """Return what the evening has to know of a song; `number` is its place among the songs, from 1."""
    song, heard = arrangement.song, arrangement.heard
    first = _end(arrangement, heard[0] if heard else None, last=False)
    song_passes = passes(arrangement)
    length = max((bar.at + bar.length for bar in arrangement.bars), default=Fraction(0))
    time = TempoClock(tempi(arrangement, song_passes, Fraction(1))).seconds(length)
    return EveningSong(
        number=number,
        title=song.title.value,
        key=arrangement.key,
        tempo=song.tempo,
        meter=arrangement.meter,
        feel=song.feel,
        start=song.start.value if song.start is not None else "",
        seconds=time,
        open_ended=any(step.until is not None for step in song.roadmap),
        reckoned=any(is_free(song.sections[one.section].facts) for one in song_passes),
        others=any(map(holds_harmony, song.band)),
        first=first,
        last=_end(arrangement, heard[-1] if heard else None, last=True),
    )


def _end(arrangement: Arrangement, one: Heard | None, *, last: bool) -> SongEnd:
    """Return one end of a song; empty hands where the keys are silent all through."""
    if one is None:
        facts = arrangement.song.sections[arrangement.song.roadmap[-1 if last else 0].section].facts
        silent = Fraction(0), len(arrangement.bars)
        return SongEnd((), (), facts.key, facts.tempo, facts.meter, facts.sound, "", *silent)
    chord, facts = arrangement.chord(one.chord), arrangement.song.sections[one.chord[0]].facts
    resolved = last and chord.suspension is not None and chord.suspension.resolves_to is not None
    over = one.at + one.length
    bars = [bar for bar in arrangement.bars if (bar.at >= over if last else bar.at + bar.length <= one.at)]
    return SongEnd(
        right=chord.plain if resolved else chord.right,
        left=chord.left,
        key=facts.key,
        tempo=facts.tempo,
        meter=facts.meter,
        sound=facts.sound,
        chord=chord.written.written if chord.written is not None else "",
        seconds=seconds(one.length, facts),
        bars=len(bars),
    )
