"""Turn an Arrangement into a Performance: every note of both hands, the octaves and the pad, in time.

In the order of the work: `model` (the values), `strikes` (notes as they are written: values, rests, ties come from
these), `passes` (of the roadmap, in time), `tempo_map`, `loudness`, `part_sounds`, `pedalling`, `sung_words` (what goes
with the notes), `perform` (the notes as they sound).
"""
