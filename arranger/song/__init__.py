"""Read text to a Song: `read` parses, builds and checks; `dump` is the golden text.

In the order of the work: `model`; `grammar` (lark's parsers, a line or a chord at a time; what spellings mean),
`cells` (what stands between two barlines), `mistakes` (marks that are not understood), `chord_rows` (bars in time),
`song_lines` (**the** table of the words that begin lines, and their readers), `words_and_notes` (rows under a row of
chords), `spelling` (chords against their key), `sections`, `roadmap`, `build`, `read`; then `transpose`, `tidy`,
`dump`. `habits/` asks it what a chord is by an argument. Building the parsers takes longer than reading a song: they
are kept in the player's cache folder, as lark saves them (pickled, so in a folder that is the player's alone), and
built anew whenever anything there is not as it was.
"""
