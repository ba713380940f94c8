"""Turn an Arrangement into a Performance: every note of both hands, the octaves and the pad, in time.

In the order of the work: `model` (the values), `strikes` (notes as they are written, on the grid), `note_values`,
`staff_places` and `notation` (the same notes in values, rests, ties, beams: what staves and MusicXML show), `passes`
(of the roadmap, in time), `tempo_map`, `loudness`, `part_sounds`, `pedalling`, `sung_words` (what goes with the notes),
`perform` (the notes as they sound).
"""
