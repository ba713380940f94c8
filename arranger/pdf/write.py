"""Stage 4: a Document -> the bytes of a PDF. Pages, fonts, outline, links, labels and what the file says of itself.

The same document gives the same bytes: nothing depends on the time, on names of files or on the order of sets.
"""

from __future__ import annotations

from collections import defaultdict

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

from arranger.layout.model import Bookmark, Document, Face, Link, Page, Text
from arranger.pdf.canvas import Codes, content
from arranger.pdf.fonts import Subset, finished, load, subsets

rl_config.useA85 = 0  # text-safe encoding costs 4 % of the size and 10 % of the time, and no reader needs it

PRODUCER = "keys-arranger"
SYMBOLIC = 4  # a font descriptor's flag: the font's own codes hold, no standard encoding


def to_bytes(document: Document) -> bytes:
    """Write a document as a PDF."""
    pdf = PDFDocument(dummyoutline=1, invariant=1, compression=1, lang=document.language or None)
    fonts, codes = _fonts(pdf, document)
    resources = PDFDictionary({"Font": PDFDictionary(fonts), "ProcSet": PDFArray([PDFName("PDF"), PDFName("Text")])})
    shared = pdf.Reference(resources, "Resources")
    names = [f"Page{number}" for number in range(1, len(document.pages) + 1)]
    for page in document.pages:
        _page(pdf, page, document, names, codes, shared)
    _outline(pdf, document, names)
    _labels(pdf, document)
    pdf.Catalog.ViewerPreferences = PDFDictionary({"DisplayDocTitle": "true"})
    pdf.info = _information(document)
    pdf.updateSignature(f"{document.title}\n{document.author}\n{document.subject}")
    pdf.Reference(pdf.Catalog)
    pdf.Reference(pdf.info)
    data: bytes = pdf.format()
    return data


def _fonts(pdf: PDFDocument, document: Document) -> tuple[dict[str, PDFObjectReference], Codes]:
    """Put the subsets that the texts need into the document; give them by resource name, and the codes."""
    used: defaultdict[Face, set[str]] = defaultdict(set)
    for page in document.pages:
        for item in page.items:
            if isinstance(item, Text):
                used[item.face].update(item.text)
    fonts: dict[str, PDFObjectReference] = {}
    codes: dict[Face, dict[str, tuple[str, int]]] = {}
    for face in sorted(used):
        codes[face] = {}
        for number, characters in enumerate(subsets(face, used[face])):
            resource = f"F{len(fonts) + 1}"
            fonts[resource] = _font(pdf, resource, finished(face, characters, number))
            codes[face] |= {c: (resource, code) for code, c in enumerate(characters) if c != "\0"}
        if not codes[face]:  # nothing but characters that the face lacks
            codes[face] = {"\0": (resource, 0)}
    return fonts, codes


def _font(pdf: PDFDocument, resource: str, subset: Subset) -> PDFObjectReference:
    """Put a subset into the document as a simple TrueType font with codes of its own."""
    face = load(subset.face).parsed
    compressed = PDFName("FlateDecode")
    program = PDFStream(PDFDictionary({"Length1": subset.length, "Filter": compressed}), subset.program)
    descriptor = PDFDictionary(
        {
            "Type": PDFName("FontDescriptor"),
            "FontName": PDFName(subset.base_name),
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


def _page(
    pdf: PDFDocument, page: Page, document: Document, names: list[str], codes: Codes, resources: PDFObjectReference
) -> None:
    drawn = content(page, codes).encode("ascii")
    pdf.updateSignature(drawn)
    sheet = PDFPage()
    sheet.MediaBox = PDFArray([0, 0, round(page.width, 2), round(page.height, 2)])
    sheet.Resources = resources
    sheet.Contents = PDFStream(content=drawn, filters=[PDFZCompress])
    if page.links:
        sheet.Annots = PDFArray(
            [_link(page, link, document.bookmarks[link.target], document, names) for link in page.links]
        )
    pdf.addPage(sheet)


def _destination(bookmark: Bookmark, document: Document, names: list[str]) -> PDFArray:
    """Give where a bookmark leads: its page, scrolled to its place, at the zoom that the reader has."""
    top = document.pages[bookmark.page].height - bookmark.y
    page = PDFObjectReference(names[bookmark.page])
    return PDFArray([page, PDFName("XYZ"), "null", round(top, 2), "null"])


def _link(page: Page, link: Link, target: Bookmark, document: Document, names: list[str]) -> PDFDictionary:
    rect = link.rect
    corners = [rect.x, page.height - rect.bottom, rect.right, page.height - rect.y]
    return PDFDictionary(
        {
            "Type": PDFName("Annot"),
            "Subtype": PDFName("Link"),
            "Rect": PDFArray([round(edge, 2) for edge in corners]),
            "Border": PDFArray([0, 0, 0]),
            "Contents": PDFString(target.title),
            "Dest": _destination(target, document, names),
        }
    )


def _outline(pdf: PDFDocument, document: Document, names: list[str]) -> None:
    """Put the bookmarks into the document as a flat outline."""
    count = len(document.bookmarks)
    if not count:
        pdf.Catalog.Outlines = None
        return
    entry = [PDFObjectReference(f"Outline{number}") for number in range(count)]
    root = PDFDictionary({"Type": PDFName("Outlines"), "First": entry[0], "Last": entry[-1], "Count": count})
    parent = pdf.Reference(root, "Outlines")
    for number, bookmark in enumerate(document.bookmarks):
        item = PDFDictionary(
            {
                "Title": PDFString(bookmark.title),
                "Parent": parent,
                "Dest": _destination(bookmark, document, names),
            }
        )
        if number:
            item["Prev"] = entry[number - 1]
        if number + 1 < count:
            item["Next"] = entry[number + 1]
        pdf.Reference(item, f"Outline{number}")
    pdf.Catalog.Outlines = root


def _information(document: Document) -> PDFDictionary:
    """Give what the file says of itself: no dates, since the same song gives the same bytes on any day."""
    facts = {
        "Title": document.title,
        "Author": document.author,
        "Subject": document.subject,
        "Creator": PRODUCER,
        "Producer": f"{PRODUCER} with ReportLab",
    }
    return PDFDictionary({name: PDFString(text) for name, text in facts.items() if text})


def _labels(pdf: PDFDocument, document: Document) -> None:
    """Give each page the label that viewers show."""
    labels = PDFPageLabels()
    for number, page in enumerate(document.pages):
        labels.addPageLabel(number, PDFPageLabel(prefix=page.label))
    pdf.Catalog.PageLabels = labels
