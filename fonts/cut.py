"""Cut the program's faces from the fonts they come from. Not part of the package: run it when a source font changes.

    python fonts/cut.py ANDIKA_FOLDER NOTO_FOLDER

Takes `Andika-Regular.ttf` and `Andika-Bold.ttf` from the first folder, `NotoMusic-Regular.ttf`, `NotoSans-Regular.ttf`
and `NotoSans-Bold.ttf` from the second; gives the five `part-*.ttf` beside this file. Needs fontTools. The same
sources give the same bytes.
"""

from __future__ import annotations

import sys
from pathlib import Path

from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont

HERE = Path(__file__).resolve().parent

# What a song can hold in the scripts that the text face has, and the signs that a part prints.
TEXT_RANGES = (
    (0x0020, 0x024F),  # Latin with its first extensions
    (0x02B0, 0x02FF),  # modifier letters (the Hawaiian okina)
    (0x0300, 0x036F),  # combining marks, for letters that have no code of their own
    (0x0400, 0x052F),  # Cyrillic
    (0x1E00, 0x1EFF),  # Latin for Vietnamese, Yoruba and others
    (0x2000, 0x200A),  # spaces
    (0x2010, 0x205E),  # punctuation
    (0x2070, 0x209F),  # raised and lowered figures
    (0x20A0, 0x20BF),  # currencies
    (0x2100, 0x218F),  # letter-like signs, fractions
    (0x2190, 0x2193),  # arrows
    (0x2206, 0x2206),  # the triangle of major sevenths
    (0x266D, 0x266F),  # flat, natural, sharp
    (0x2713, 0x2713),  # tick
    (0xFB00, 0xFB06),  # ligatures that pasted text brings
)
GREEK_RANGES = (
    (0x0370, 0x03FF),  # Greek
    (0x1F00, 0x1FFF),  # and with the marks of old spelling
)
MUSIC_RANGES = (
    (0x2669, 0x266F),  # notes and accidentals
    (0x1D10E, 0x1D111),  # repeated bars, fermatas
    (0x1D11E, 0x1D126),  # clefs
    (0x1D12A, 0x1D12B),  # double sharp, double flat
    (0x1D13A, 0x1D140),  # rests
    (0x1D157, 0x1D164),  # note heads and notes
    (0x1D16D, 0x1D16D),  # augmentation dot
    (0x1D17B, 0x1D17B),  # accent
)
# (source, cut, family, style, characters). A cut is a modified version, so it may not bear its source's reserved names.
FACES = (
    ("Andika-Regular.ttf", "part-regular.ttf", "Keys Part", "Regular", TEXT_RANGES),
    ("Andika-Bold.ttf", "part-bold.ttf", "Keys Part", "Bold", TEXT_RANGES),
    ("NotoMusic-Regular.ttf", "part-music.ttf", "Keys Part Music", "Regular", MUSIC_RANGES),
    ("NotoSans-Regular.ttf", "part-greek.ttf", "Keys Part Greek", "Regular", GREEK_RANGES),
    ("NotoSans-Bold.ttf", "part-greek-bold.ttf", "Keys Part Greek", "Bold", GREEK_RANGES),
)
COPYRIGHT, FAMILY, STYLE, UNIQUE, FULL, VERSION, POSTSCRIPT, LICENCE, LICENCE_URL = 0, 1, 2, 3, 4, 5, 6, 13, 14


def cut(source: Path, target: Path, family: str, style: str, ranges: tuple[tuple[int, int], ...]) -> None:
    """Write the cut: those characters alone, without hinting (print does not need it) and layout tables, renamed."""
    font = TTFont(source, recalcTimestamp=False)
    options = Options()
    options.hinting = False
    options.layout_features = []
    options.drop_tables += ["GSUB", "GPOS", "GDEF", "Silt", "Glat", "Gloc", "Sill", "Feat", "DSIG", "gasp", "FFTM"]
    options.notdef_outline = True
    options.name_IDs = [COPYRIGHT, VERSION, LICENCE, LICENCE_URL]
    options.name_languages = [0x409]
    subsetter = Subsetter(options)
    subsetter.populate(unicodes=[c for first, last in ranges for c in range(first, last + 1)])
    subsetter.subset(font)
    names = font["name"]
    names.names = [record for record in names.names if record.platformID == 3]
    version = str(names.getName(VERSION, 3, 1, 0x409))
    full = family if style == "Regular" else f"{family} {style}"
    postscript = f"{family.replace(' ', '')}-{style}"
    named = ((FAMILY, family), (STYLE, style), (UNIQUE, f"{version}; {postscript}"), (FULL, full))
    for number, text in (*named, (VERSION, f"{version}; cut"), (POSTSCRIPT, postscript)):
        names.setName(text, number, 3, 1, 0x409)
    font.save(target)
    print(f"{target.name}: {len(font.getBestCmap())} characters, {target.stat().st_size} bytes")


def main(text_folder: str, noto_folder: str) -> None:
    """Cut all faces."""
    for source, target, family, style, ranges in FACES:
        folder = noto_folder if source.startswith("Noto") else text_folder
        cut(Path(folder) / source, HERE / target, family, style, ranges)


if __name__ == "__main__":
    main(*sys.argv[1:])
