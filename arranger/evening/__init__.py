"""Work out what lies between the songs of an evening.

Each song's facts for it (`song_ends`), what two keys and tempi have in common (`in_common`), how hands pass from song
to song (`passing`), and all of it together (`joins`).
"""
