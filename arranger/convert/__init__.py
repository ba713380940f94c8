"""Make songs of typed sheets, with chords in a line above the words, and of scores. Gives text, and what was assumed.

Scores, in reading order: `score_file` (bytes to elements), `score_values`, `score_harmony`, `score_directions`,
`score_parts` and `score_head` (elements to a `score_model`), `score_lead`, `score_bars` and `score_lengths` (one line
of music), `score_roadmap`, `score_keys`, `score_sections`, `score_words`, `score_rows`, `score_song`,
`score_conversion`.
"""
