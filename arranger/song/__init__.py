"""Read text to a Song: `read` parses, builds and checks; `dump` is the golden text.

In the order of the work: `model`; `grammar` (lark: lines and chords; what spellings mean), `cells` (what stands
between two barlines), `mistakes` (marks that are not understood), `chord_rows` (bars in time), `song_lines`
(**the** table of the words that begin lines, and their readers), `words_and_notes` (rows under a row of chords),
`sections`, `roadmap`, `build`, `read`; then `transpose`, `tidy`, `dump`. `habits/` asks it what a chord is by an
argument.
"""
