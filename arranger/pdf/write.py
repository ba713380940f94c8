"""Write a Document as the bytes of a PDF: pages, fonts, outline, links, labels and what the file says of itself.

The same document gives the same bytes: nothing depends on the time, on names of files or on the order of sets.
"""

import zlib
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple
from urllib.parse import quote

from reportlab import rl_config
from reportlab.pdfbase.pdfdoc import (
    PDFArray,
    PDFDictionary,
    PDFDocument,
    PDFName,
    PDFObjectReference,
    PDFPage,
    PDFPageLabel,
    PDFPageLabels,
    PDFStream,
    PDFString,
)

from arranger.digests import sealed
from arranger.layout.model import Bookmark, Document, Face, FileLink, Glyph, Link, Page, Text
from arranger.pdf.canvas import Codes, content, glyph_resource
from arranger.pdf.fonts import Others, Subset, finished, glyphs, load, subsets
from arranger.resources import undisturbed

rl_config.useA85 = 0  # text-safe encoding costs 4 % of the size and 10 % of the time, and no reader needs it

PRODUCER = "keys-arranger"
Openings = dict[tuple[str, bool], PDFObjectReference]  # file, by its address -> the action that opens it

SYMBOLIC = 4  # a font descriptor's flag: the font's own codes hold, no standard encoding


class _Survey(NamedTuple):
    """What has to be known of all pages before the first is written.

    Attributes:
        used: the characters of each face.
        shaped: its glyphs, by number.
        ways: the other files that are opened, and how, in the order of their links.
        heights, labels: of the pages.
    """

    used: Mapping[Face, set[str]]
    shaped: Mapping[Face, dict[int, Glyph]]
    ways: tuple[tuple[str, bool], ...]
    heights: tuple[float, ...]
    labels: tuple[str, ...]


def to_bytes(document: Document, others: Others = (), pages: Iterable[Page] | None = None) -> bytes:
    """Write a document as a PDF.

    Args:
        document: the pages, and what the file says of itself.
        others: the paths of the player's own fonts, those that the document was laid out with.
        pages: in place of the document's own; they are gone through twice, and none is kept.
    """
    pages = document.pages if pages is None else pages
    with undisturbed():
        pdf = PDFDocument(dummyoutline=1, invariant=1, compression=1, lang=document.language or None)
    survey = _survey(pages)
    fonts, codes = _fonts(pdf, survey, others)
    resources = _dictionary(Font=_dictionary(**fonts), ProcSet=PDFArray(["/PDF", "/Text"]))
    shared = pdf.Reference(resources, "Resources")
    openings = {way: pdf.Reference(_opening(*way), f"Opening{number}") for number, way in enumerate(survey.ways)}
    places = [_destination(bookmark, survey.heights) for bookmark in document.bookmarks]
    for page in pages:
        _page(pdf, page, document.bookmarks, places, codes, shared, openings)
    _outline(pdf, document.bookmarks, places)
    labels = pdf.Catalog.PageLabels = PDFPageLabels()
    for number, label in enumerate(survey.labels):
        labels.addPageLabel(number, PDFPageLabel(prefix=label))
    pdf.Catalog.ViewerPreferences = _dictionary(DisplayDocTitle="true")
    pdf.info = _information(document)
    pdf.Reference(pdf.Catalog)
    pdf.Reference(pdf.info)
    return sealed(pdf.format())


def _survey(pages: Iterable[Page]) -> _Survey:
    used: defaultdict[Face, set[str]] = defaultdict(set)
    shaped: defaultdict[Face, dict[int, Glyph]] = defaultdict(dict)
    ways: dict[tuple[str, bool], None] = {}
    heights, labels = [], []
    for page in pages:
        heights.append(page.height)
        labels.append(page.label)
        ways |= {(link.file, link.by_address): None for link in page.links if isinstance(link, FileLink)}
        for item in page.items:
            if isinstance(item, Text) and item.glyphs:
                for glyph in item.glyphs:
                    if glyph.text or glyph.number not in shaped[item.face]:
                        shaped[item.face][glyph.number] = glyph
            elif isinstance(item, Text):
                used[item.face].update(item.text)
    return _Survey(used, shaped, tuple(ways), tuple(heights), tuple(labels))


def _fonts(pdf: PDFDocument, survey: _Survey, others: Others) -> tuple[dict[str, PDFObjectReference], Codes]:
    """Put the subsets that the texts need into the document; return them by resource name, and the codes."""
    used, shaped = survey.used, survey.shaped
    fonts: dict[str, PDFObjectReference] = {}
    codes: dict[Face, dict[str, tuple[str, int]]] = {}
    for face in sorted(used):
        codes[face] = {}
        for number, characters in enumerate(subsets(face, used[face], others)):
            resource = f"F{len(fonts) + 1}"
            fonts[resource] = _font(pdf, resource, finished(face, characters, number, others), others)
            codes[face] |= {c: (resource, code) for code, c in enumerate(characters) if c != "\0"}
        if not codes[face]:  # nothing but characters that the face lacks
            codes[face] = {"\0": (resource, 0)}
    for face in sorted(shaped):
        resource = glyph_resource(face)
        fonts[resource] = _font(pdf, resource, glyphs(face, shaped[face], others), others)
    return fonts, codes


def _dictionary(**entries: object) -> PDFDictionary:
    """Return a dictionary of the PDF; a text is written as it is, so a name has its slash."""
    return PDFDictionary(entries)


def _font(pdf: PDFDocument, resource: str, subset: Subset, others: Others) -> PDFObjectReference:
    """Put a subset into the document: a simple TrueType font with codes of its own, or one of glyphs with numbers."""
    face = load(subset.face, others).parsed
    name = PDFName(subset.base_name)
    program = PDFStream(_dictionary(Length1=subset.length, Filter="/FlateDecode"), subset.program)
    descriptor = _dictionary(
        Type="/FontDescriptor",
        FontName=name,
        Flags=SYMBOLIC,
        FontBBox=PDFArray([round(edge) for edge in face.bbox]),
        ItalicAngle=0,
        Ascent=round(face.ascent),
        Descent=round(face.descent),
        CapHeight=round(face.capHeight),
        StemV=round(face.stemV),
        FontFile2=pdf.Reference(program, f"{resource}.program"),
    )
    described = pdf.Reference(descriptor, f"{resource}.descriptor")
    reads = PDFStream(_dictionary(Filter="/FlateDecode"), subset.unicode_map)
    font = {"Type": "/Font", "BaseFont": name, "ToUnicode": pdf.Reference(reads, f"{resource}.unicode")}
    if subset.numbers:
        each = zip(subset.numbers, subset.widths, strict=True)
        descendant = _dictionary(
            Type="/Font",
            Subtype="/CIDFontType2",
            BaseFont=name,
            CIDSystemInfo=_dictionary(Registry=PDFString("Adobe"), Ordering=PDFString("Identity"), Supplement=0),
            CIDToGIDMap="/Identity",
            DW=0,
            W=PDFArray([part for number, width in each for part in (number, PDFArray([width]))]),
            FontDescriptor=described,
        )
        below = PDFArray([pdf.Reference(descendant, f"{resource}.descendant")])
        font |= {"Subtype": "/Type0", "Encoding": "/Identity-H", "DescendantFonts": below}
    else:
        last = len(subset.widths) - 1
        font |= {
            "Subtype": "/TrueType",
            "FirstChar": 0,
            "LastChar": last,
            "Widths": _widths(subset.widths),
            "FontDescriptor": described,
        }
    return pdf.Reference(_dictionary(**font), resource)


@lru_cache(maxsize=64)  # of the subsets that most documents have in common
def _widths(widths: tuple[float, ...]) -> bytes:
    """Return an array of widths as it is written."""
    written: bytes = PDFArray(widths).format(None)  # numbers are written alike in every document
    return written


def _page(
    pdf: PDFDocument,
    page: Page,
    bookmarks: Sequence[Bookmark],
    places: Sequence[PDFArray],
    codes: Codes,
    resources: PDFObjectReference,
    openings: Openings,
) -> None:
    drawn = content(page, codes).encode("ascii")
    sheet = PDFPage()
    sheet.MediaBox = PDFArray([0, 0, round(page.width, 2), round(page.height, 2)])
    sheet.Resources = resources
    # Made small at once: a book's pages together are large until they are.
    sheet.Contents = PDFStream(_dictionary(Filter=PDFArray(["/FlateDecode"])), zlib.compress(drawn))
    if page.links:
        sheet.Annots = PDFArray([_link(page, link, bookmarks, places, openings) for link in page.links])
    pdf.addPage(sheet)


def _destination(bookmark: Bookmark, heights: Sequence[float]) -> PDFArray:
    """Return where a bookmark leads: its page, scrolled to its place, at the zoom that the reader has."""
    top = heights[bookmark.page] - bookmark.y
    page = PDFObjectReference(f"Page{bookmark.page + 1}")
    return PDFArray([page, "/XYZ", "null", round(top, 2), "null"])


def _link(
    page: Page,
    link: Link | FileLink,
    bookmarks: Sequence[Bookmark],
    places: Sequence[PDFArray],
    openings: Openings,
) -> PDFDictionary:
    rect = link.rect
    corners = [rect.x, page.height - rect.bottom, rect.right, page.height - rect.y]
    if isinstance(link, FileLink):
        title, leads = link.title, {"A": openings[link.file, link.by_address]}
    else:
        title, leads = bookmarks[link.target].title, {"Dest": places[link.target]}
    area, border = PDFArray([round(edge, 2) for edge in corners]), PDFArray([0, 0, 0])
    return _dictionary(Type="/Annot", Subtype="/Link", Rect=area, Border=border, Contents=_string(title), **leads)


def _string(text: str) -> PDFString:
    """Return a text string: in PDFDocEncoding where that has all of it, else in UTF-16 (ISO 32000-1, 7.9.2.2).

    The library takes the soft hyphen for a character of PDFDocEncoding, which has none at that place (annex D).
    """
    return PDFString(text, enc="utf-16" if "\xad" in text else "auto")


def _opening(file: str, by_address: bool) -> PDFDictionary:
    """Return the action that opens another file (ISO 32000-1, 12.6.4.3 and 12.6.4.7).

    An address begins with `./`, for viewers take one with dots in its first part for that of a site.
    """
    if by_address:
        return _dictionary(S="/URI", URI=PDFString(f"./{quote(file)}"))
    plain = f"<{file.encode().hex()}>"  # as file systems have it: some viewers look at no other name
    named = _dictionary(Type="/Filespec", F=plain, UF=_string(file))
    return _dictionary(S="/GoToR", F=named, D=PDFArray([0, "/Fit"]))


def _outline(pdf: PDFDocument, marks: Sequence[Bookmark], places: Sequence[PDFArray]) -> None:
    """Put the bookmarks into the document as an outline; entries under others are folded away."""
    if not marks:
        pdf.Catalog.Outlines = None
        return
    parents, above = [], -1
    children: defaultdict[int, list[int]] = defaultdict(list)
    for number, mark in enumerate(marks):
        parents.append(above if mark.level else -1)
        children[parents[-1]].append(number)
        above = above if mark.level else number
    root = _dictionary(Type="/Outlines", **_inside(children[-1], 1))
    references = {-1: pdf.Reference(root, "Outlines")}
    references |= {number: PDFObjectReference(f"Outline{number}") for number in range(len(marks))}
    for number, mark in enumerate(marks):
        siblings = children[parents[number]]
        item = {"Title": _string(mark.title), "Parent": references[parents[number]], "Dest": places[number]}
        at = bisect_left(siblings, number)
        if at:
            item["Prev"] = references[siblings[at - 1]]
        if at + 1 < len(siblings):
            item["Next"] = references[siblings[at + 1]]
        if number in children:
            item |= _inside(children[number], -1)
        pdf.Reference(_dictionary(**item), f"Outline{number}")
    pdf.Catalog.Outlines = root


def _inside(entries: list[int], sign: int) -> dict[str, object]:
    """Return the first and the last entry under one, and their count, below 0 where they are folded away."""
    ends = {"First": entries[0], "Last": entries[-1]}
    named = {name: PDFObjectReference(f"Outline{number}") for name, number in ends.items()}
    return {**named, "Count": sign * len(entries)}


def _information(document: Document) -> PDFDictionary:
    """Return what the file says of itself: no dates, since the same song gives the same bytes on any day."""
    facts = {
        "Title": document.title,
        "Author": document.author,
        "Subject": document.subject,
        "Creator": PRODUCER,
        "Producer": f"{PRODUCER} with ReportLab",
    }
    return _dictionary(**{name: _string(text) for name, text in facts.items() if text})
