"""Turn the Arrangements of some songs into studies: what to practise from them, of their own changes.

In the order of the work: `model` (the values), `study_hands` (what the studies share), `hard_changes` (grouped up to
transposition), `loops` (the most frequent loop, by its inversions), `drills` (a triad and its suspensions),
`octave_lines` (with the changes of sound), `minutes` (shared out), `offer` (all of it), `played_through` (the studies
in time).
"""
