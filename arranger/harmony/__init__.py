"""Turn a Song into an Arrangement: how full the keys play, both hands, suspensions, octave fills.

In the order of the work: `textures` (THE table of bare, light, full and wide), `form` (refrain, verses, bridge),
`arc` (how full, when, with whom), `repeats` and `timeline` (the roadmap unrolled; which chords share one voicing),
`voicings` (of a chord, and what they cost), `uses` (how often each chord is heard), `left_hand`, `drone_hands` and
`inner_lines`, `candidates` (the right hand's choices), `singer`, `landing` (cadences), `sites`, `suspensions` and
`offers_beside` (what may be offered, and what it is worth), `choices` (problems, and the order they are searched
in), `search` and `tree` (exact), `limits`, `optimum`, `branches`, `pieces` and `within_limits` (exact, or a bound),
`sum_of_hands` and `solve` (hands and suspensions
together), `fingers` (with names of hands), `figures`, `octaves` and `gaps` (what leads
into a chord; before which chords), `manners` (manner, pad, changes of sound), `patterns` and `strokes` (THE table of
rhythms; chords in time), `measures` (how much is played), `lead_ins`, `arrange` (one value of all), `easiest_key`,
`dump` (the JSON), `why` (what another hand would cost), `demands` (which changes ask most of the hand).
"""
