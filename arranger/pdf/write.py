"""Stage 4: a Document -> the bytes of a PDF. Pages, fonts, outline, links, labels and what the file says of itself.

The same document gives the same bytes: nothing depends on the time, on names of files or on the order of sets.
"""

from __future__ import annotations

import zlib
from collections import defaultdict
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
    PDFZCompress,
)
from reportlab.pdfbase.ttfonts import TTFontFace

from arranger.files import sealed
from arranger.layout.model import Bookmark, Document, Face, FileLink, Glyph, Link, Page, Text
from arranger.pdf.canvas import Codes, content, glyph_resource
from arranger.pdf.fonts import Others, Subset, finished, glyphs, load, subsets, unicode_map
from arranger.resources import undisturbed

rl_config.useA85 = 0  # text-safe encoding costs 4 % of the size and 10 % of the time, and no reader needs it

PRODUCER = "keys-arranger"
Openings = dict[tuple[str, bool], PDFObjectReference]  # file, by its address -> the action that opens it

SYMBOLIC = 4  # a font descriptor's flag: the font's own codes hold, no standard encoding


def to_bytes(document: Document, others: Others = ()) -> bytes:
    """Write a document as a PDF.

    Args:
        document: the pages.
        others: the paths of the player's own fonts, those that the document was laid out with.
    """
    with undisturbed():
        pdf = PDFDocument(dummyoutline=1, invariant=1, compression=1, lang=document.language or None)
    fonts, codes = _fonts(pdf, document, others)
    resources = PDFDictionary({"Font": PDFDictionary(fonts), "ProcSet": PDFArray([PDFName("PDF"), PDFName("Text")])})
    shared = pdf.Reference(resources, "Resources")
    names = [f"Page{number}" for number in range(1, len(document.pages) + 1)]
    openings = _openings(pdf, document)
    for page in document.pages:
        _page(pdf, page, document, names, codes, shared, openings)
    _outline(pdf, document, names)
    _labels(pdf, document)
    pdf.Catalog.ViewerPreferences = PDFDictionary({"DisplayDocTitle": "true"})
    pdf.info = _information(document)
    pdf.Reference(pdf.Catalog)
    pdf.Reference(pdf.info)
    return sealed(pdf.format())


def _fonts(pdf: PDFDocument, document: Document, others: Others) -> tuple[dict[str, PDFObjectReference], Codes]:
    """Put the subsets that the texts need into the document; give them by resource name, and the codes."""
    used: defaultdict[Face, set[str]] = defaultdict(set)
    shaped: defaultdict[Face, dict[int, Glyph]] = defaultdict(dict)
    for page in document.pages:
        for item in page.items:
            if isinstance(item, Text) and item.glyphs:
                for glyph in item.glyphs:
                    if glyph.text or glyph.number not in shaped[item.face]:
                        shaped[item.face][glyph.number] = glyph
            elif isinstance(item, Text):
                used[item.face].update(item.text)
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
        fonts[resource] = _glyph_font(pdf, resource, face, shaped[face], others)
    return fonts, codes


def _glyph_font(
    pdf: PDFDocument, resource: str, face: Face, used: dict[int, Glyph], others: Others
) -> PDFObjectReference:
    """Put the glyphs used of a face into the document, to be named by their numbers.

    What a glyph reads as is as the text has it where it was last used; where letters change their order, each text
    says itself what it reads as (`ActualText`).
    """
    parsed = load(face, others).parsed
    subset = glyphs(face, used, others)
    name = f"KEYSZZ+{parsed.name.decode('ascii')}"
    program = PDFStream(PDFDictionary({"Length1": subset.length, "Filter": PDFName("FlateDecode")}), subset.program)
    widths = [part for number, width in subset.widths for part in (number, PDFArray([width]))]
    system = {"Registry": PDFString("Adobe"), "Ordering": PDFString("Identity"), "Supplement": 0}
    descendant = PDFDictionary(
        {
            "Type": PDFName("Font"),
            "Subtype": PDFName("CIDFontType2"),
            "BaseFont": PDFName(name),
            "CIDSystemInfo": PDFDictionary(system),
            "CIDToGIDMap": PDFName("Identity"),
            "DW": 0,
            "W": PDFArray(widths),
            "FontDescriptor": pdf.Reference(
                _descriptor(pdf, resource, name, parsed, program), f"{resource}.descriptor"
            ),
        }
    )
    read = unicode_map(name, [(number, glyph.text) for number, glyph in sorted(used.items()) if glyph.text], "04X")
    reads = PDFStream(PDFDictionary({"Filter": PDFName("FlateDecode")}), zlib.compress(read.encode("ascii")))
    font = PDFDictionary(
        {
            "Type": PDFName("Font"),
            "Subtype": PDFName("Type0"),
            "ToUnicode": pdf.Reference(reads, f"{resource}.unicode"),
            "BaseFont": PDFName(name),
            "Encoding": PDFName("Identity-H"),
            "DescendantFonts": PDFArray([pdf.Reference(descendant, f"{resource}.descendant")]),
        }
    )
    return pdf.Reference(font, resource)


def _font(pdf: PDFDocument, resource: str, subset: Subset, others: Others) -> PDFObjectReference:
    """Put a subset into the document as a simple TrueType font with codes of its own."""
    face = load(subset.face, others).parsed
    compressed = PDFName("FlateDecode")
    program = PDFStream(PDFDictionary({"Length1": subset.length, "Filter": compressed}), subset.program)
    descriptor = _descriptor(pdf, resource, subset.base_name, face, program)
    unicode_map = PDFStream(PDFDictionary({"Filter": compressed}), subset.unicode_map)
    font = PDFDictionary(
        {
            "Type": PDFName("Font"),
            "Subtype": PDFName("TrueType"),
            "BaseFont": PDFName(subset.base_name),
            "FirstChar": 0,
            "LastChar": len(subset.widths) - 1,
            "Widths": PDFArray(list(subset.widths)),
            "FontDescriptor": pdf.Reference(descriptor, f"{resource}.descriptor"),
            "ToUnicode": pdf.Reference(unicode_map, f"{resource}.unicode"),
        }
    )
    return pdf.Reference(font, resource)


def _descriptor(pdf: PDFDocument, resource: str, name: str, face: TTFontFace, program: PDFStream) -> PDFDictionary:
    return PDFDictionary(
        {
            "Type": PDFName("FontDescriptor"),
            "FontName": PDFName(name),
            "Flags": SYMBOLIC,
            "FontBBox": PDFArray([round(edge) for edge in face.bbox]),
            "ItalicAngle": 0,
            "Ascent": round(face.ascent),
            "Descent": round(face.descent),
            "CapHeight": round(face.capHeight),
            "StemV": round(face.stemV),
            "FontFile2": pdf.Reference(program, f"{resource}.program"),
        }
    )


def _page(
    pdf: PDFDocument,
    page: Page,
    document: Document,
    names: list[str],
    codes: Codes,
    resources: PDFObjectReference,
    openings: Openings,
) -> None:
    drawn = content(page, codes).encode("ascii")
    sheet = PDFPage()
    sheet.MediaBox = PDFArray([0, 0, round(page.width, 2), round(page.height, 2)])
    sheet.Resources = resources
    sheet.Contents = PDFStream(content=drawn, filters=[PDFZCompress])
    if page.links:
        sheet.Annots = PDFArray([_link(page, link, document, names, openings) for link in page.links])
    pdf.addPage(sheet)


def _destination(bookmark: Bookmark, document: Document, names: list[str]) -> PDFArray:
    """Return where a bookmark leads: its page, scrolled to its place, at the zoom that the reader has."""
    top = document.pages[bookmark.page].height - bookmark.y
    page = PDFObjectReference(names[bookmark.page])
    return PDFArray([page, PDFName("XYZ"), "null", round(top, 2), "null"])


def _link(page: Page, link: Link | FileLink, document: Document, names: list[str], openings: Openings) -> PDFDictionary:
    rect = link.rect
    corners = [rect.x, page.height - rect.bottom, rect.right, page.height - rect.y]
    if isinstance(link, FileLink):
        title, leads = link.title, {"A": openings[link.file, link.by_address]}
    else:
        target = document.bookmarks[link.target]
        title, leads = target.title, {"Dest": _destination(target, document, names)}
    return PDFDictionary(
        {
            "Type": PDFName("Annot"),
            "Subtype": PDFName("Link"),
            "Rect": PDFArray([round(edge, 2) for edge in corners]),
            "Border": PDFArray([0, 0, 0]),
            "Contents": PDFString(title),
            **leads,
        }
    )


def _openings(pdf: PDFDocument, document: Document) -> Openings:
    """Put the actions that open other files into the document, one for all links that open a file in the same way."""
    links = (link for page in document.pages for link in page.links if isinstance(link, FileLink))
    ways = dict.fromkeys((link.file, link.by_address) for link in links)
    return {way: pdf.Reference(_opening(*way), f"Opening{number}") for number, way in enumerate(ways)}


def _opening(file: str, by_address: bool) -> PDFDictionary:
    """Return the action that opens another file (ISO 32000-1, 12.6.4.3 and 12.6.4.7).

    An address begins with `./`, for viewers take one with dots in its first part for that of a site.
    """
    if by_address:
        return PDFDictionary({"S": PDFName("URI"), "URI": PDFString(f"./{quote(file)}")})
    plain = f"<{file.encode().hex()}>"  # as file systems have it: some viewers look at no other name
    named = {"Type": PDFName("Filespec"), "F": plain, "UF": PDFString(file)}
    first = PDFArray([0, PDFName("Fit")])
    return PDFDictionary({"S": PDFName("GoToR"), "F": PDFDictionary(named), "D": first})


def _outline(pdf: PDFDocument, document: Document, names: list[str]) -> None:
    """Put the bookmarks into the document as an outline; entries under others are folded away."""
    marks = document.bookmarks
    if not marks:
        pdf.Catalog.Outlines = None
        return
    parents = [
        max((above for above in range(number) if not marks[above].level), default=-1) if mark.level else -1
        for number, mark in enumerate(marks)
    ]
    children = {parent: [n for n, above in enumerate(parents) if above == parent] for parent in {-1, *parents}}
    root = PDFDictionary({"Type": PDFName("Outlines"), **_inside(children[-1], 1)})
    references = {-1: pdf.Reference(root, "Outlines")}
    references |= {number: PDFObjectReference(f"Outline{number}") for number in range(len(marks))}
    for number, mark in enumerate(marks):
        siblings = children[parents[number]]
        item = {
            "Title": PDFString(mark.title),
            "Parent": references[parents[number]],
            "Dest": _destination(mark, document, names),
        }
        at = siblings.index(number)
        if at:
            item["Prev"] = references[siblings[at - 1]]
        if at + 1 < len(siblings):
            item["Next"] = references[siblings[at + 1]]
        if number in children:
            item |= _inside(children[number], -1)
        pdf.Reference(PDFDictionary(item), f"Outline{number}")
    pdf.Catalog.Outlines = root


def _inside(entries: list[int], sign: int) -> dict[str, object]:
    """Name the first and the last entry under one; their count is below 0 where they are folded away."""
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
    return PDFDictionary({name: PDFString(text) for name, text in facts.items() if text})


def _labels(pdf: PDFDocument, document: Document) -> None:
    """Return each page the label that viewers show."""
    labels = PDFPageLabels()
    for number, page in enumerate(document.pages):
        labels.addPageLabel(number, PDFPageLabel(prefix=page.label))
    pdf.Catalog.PageLabels = labels
