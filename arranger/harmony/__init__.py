"""Turn a Song into an Arrangement: the timeline, both hands, suspensions and octave fills.

In the order of the work: `timeline` (the roadmap unrolled; who shares a hand), `voicings` (of a chord, and what they
cost), `candidates` (how often each chord is heard, the left hand, the right hand's choices), `singer` and
`suspensions` (what may be offered, and what it is worth), `choices` (problems, and the order they are searched in),
`search` and `tree` (exact), `limits`, `optimum` and `within_limits` (exact, or a bound), `solve` (hands and
suspensions together), `settled` (or found before, for the same music), `fingers` (with names of hands), `figures` and
`octaves` (what leads into a chord; before which chords), `texture` (manner, pad, changes of sound), `arrange` (one
value of all), `dump` (the JSON), `why` (what another hand would cost).
"""
