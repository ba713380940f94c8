"""What the program is measured against: the same work with nothing around it.

`bare` draws placed items with reportlab as fast as it goes when everything is done well (L); `usual` draws them with
the calls that everybody uses (A5); `by_regex` reads a song's text into plain tuples and checks nothing.
"""

from __future__ import annotations

import io
import re
import zlib
from collections.abc import Callable

from reportlab import rl_config
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.pdfdoc import PDFArray, PDFDictionary, PDFDocument, PDFName, PDFPage, PDFStream
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from arranger.layout.content import pictures
from arranger.layout.model import Box, Disc, Document, Item, Keyboard, Line, Page, Shape, Text, Tie
from arranger.resources import FONT_FILES, font_path
from arranger.theory.pitch import is_black

K = 0.5523  # handles of a circle's curves


def bare(document: Document, programs: dict[str, bytes]) -> Callable[[], bytes]:
    """Make a function that draws the document as operators in one string a page, the fonts being finished.

    Args:
        document: the placed items.
        programs: the compressed subset of each face; they go into the file, and cost no more than that.
    """
    faces = {face: f"F{number}" for number, face in enumerate(FONT_FILES)}

    def draw() -> bytes:
        rl_config.useA85 = 0
        pdf = PDFDocument(dummyoutline=1, invariant=1, compression=1)
        fonts = {}
        for face, name in faces.items():
            program = PDFStream(PDFDictionary({"Filter": PDFName("FlateDecode")}), programs[face])
            descriptor = PDFDictionary({"Type": PDFName("FontDescriptor"), "FontFile2": pdf.Reference(program)})
            font = {
                "Type": PDFName("Font"),
                "Subtype": PDFName("TrueType"),
                "FontDescriptor": pdf.Reference(descriptor),
            }
            fonts[name] = pdf.Reference(PDFDictionary(font))
        resources = pdf.Reference(PDFDictionary({"Font": PDFDictionary(fonts)}))
        for page in document.pages:
            sheet = PDFPage()
            sheet.MediaBox = PDFArray([0, 0, page.width, page.height])
            sheet.Resources = resources
            stream = zlib.compress(_operators(page, faces).encode("latin-1", "replace"), 6)
            sheet.Contents = pdf.Reference(PDFStream(PDFDictionary({"Filter": PDFName("FlateDecode")}), stream))
            pdf.addPage(sheet)
        pdf.Reference(pdf.Catalog)
        pdf.Reference(pdf.info)
        return pdf.format()

    return draw


def _operators(page: Page, faces: dict[str, str]) -> str:
    height = page.height
    drawn, text = [], ["BT"]
    for item in page.items:
        if isinstance(item, Text):
            escaped = item.text.replace("\\", "\\\\").replace("(", "\\(").replace(")", "\\)")
            text.append(
                f"/{faces[item.face]} {item.size} Tf 1 0 0 1 {item.x:.2f} {height - item.y:.2f} Tm ({escaped}) Tj"
            )
        elif isinstance(item, Keyboard):
            drawn.append(f"q 1 0 0 1 {item.x:.2f} {height - item.y:.2f} cm {_bed(item)} Q")
        else:
            drawn.append(_shape(item, height))
    return "\n".join([*drawn, *text, "ET"])


_beds: dict[tuple[object, ...], str] = {}


def _bed(item: Keyboard) -> str:
    key = (item.low, item.high, item.key_width, item.height, item.marks, item.resolves)
    bed = _beds.get(key)
    if bed is None:
        unit, tall = item.key_width, item.height
        whites = pictures.white_count(item.low, item.high)
        parts = [f"{i * unit:.2f} 0 m {i * unit:.2f} {-tall:.2f} l" for i in range(whites + 1)]
        for pitch in filter(is_black, range(item.low, item.high)):
            x = pictures.key_centre(pitch, item.low) * unit
            parts.append(f"{x - unit / 4:.2f} {-tall * 0.6:.2f} {unit / 2:.2f} {tall * 0.6:.2f} re")
        for sign in pictures.signs(item):
            parts.append(_shape(sign, 0))
        bed = _beds[key] = "\n".join([*parts, "S"])
    return bed


def _shape(item: Item, height: float) -> str:
    match item:
        case Line():
            return f"{item.width} w {item.x1:.2f} {height - item.y1:.2f} m {item.x2:.2f} {height - item.y2:.2f} l S"
        case Box():
            return f"{item.x:.2f} {height - item.y - item.height:.2f} {item.width:.2f} {item.height:.2f} re f"
        case Disc():
            x, y, r = item.x, height - item.y, item.radius
            k = K * r
            return (
                f"{x + r:.2f} {y:.2f} m {x + r:.2f} {y + k:.2f} {x + k:.2f} {y + r:.2f} {x:.2f} {y + r:.2f} c "
                f"{x - k:.2f} {y + r:.2f} {x - r:.2f} {y + k:.2f} {x - r:.2f} {y:.2f} c "
                f"{x - r:.2f} {y - k:.2f} {x - k:.2f} {y - r:.2f} {x:.2f} {y - r:.2f} c "
                f"{x + k:.2f} {y - r:.2f} {x + r:.2f} {y - k:.2f} {x + r:.2f} {y:.2f} c f"
            )
        case Tie():
            y, top = height - item.y, height - item.y + item.rise
            return f"{item.x1:.2f} {y:.2f} m {item.x1:.2f} {top:.2f} {item.x2:.2f} {top:.2f} {item.x2:.2f} {y:.2f} c S"
        case Shape():
            return "m ".join(f"{p.x:.2f} {height - p.y:.2f} " for p in item.points) + "f"
    raise TypeError(item)


def usual(document: Document) -> bytes:
    """Draw the document with canvas calls, the empty keyboard being a form."""
    for face, file in FONT_FILES.items():
        if face not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(face, str(font_path(file))))
    canvas = Canvas(buffer := io.BytesIO(), invariant=1, pageCompression=1)
    for page in document.pages:
        canvas.setPageSize((page.width, page.height))
        for item in page.items:
            _call(canvas, item, page.height)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _call(canvas: Canvas, item: Item, height: float) -> None:
    match item:
        case Text():
            canvas.setFont(item.face, item.size)
            canvas.setFillGray(item.grey)
            canvas.drawString(item.x, height - item.y, item.text)
        case Line():
            canvas.setLineWidth(item.width)
            canvas.setStrokeGray(item.grey)
            canvas.line(item.x1, height - item.y1, item.x2, height - item.y2)
        case Box():
            canvas.setFillGray(item.grey)
            canvas.rect(item.x, height - item.y - item.height, item.width, item.height, stroke=0, fill=1)
        case Disc():
            canvas.setFillGray(item.grey)
            canvas.circle(item.x, height - item.y, item.radius, stroke=int(item.ring > 0), fill=int(item.ring == 0))
        case Tie():
            y, top = height - item.y, height - item.y + item.rise
            canvas.bezier(item.x1, y, item.x1, top, item.x2, top, item.x2, y)
        case Shape():
            path = canvas.beginPath()
            path.moveTo(item.points[0].x, height - item.points[0].y)
            for point in item.points[1:]:
                path.lineTo(point.x, height - point.y)
            path.close()
            canvas.drawPath(path, stroke=0, fill=1)
        case Keyboard():
            form = f"bed{item.low}-{item.high}-{item.key_width:.1f}"
            if not canvas.hasForm(form):
                _form(canvas, form, item)
            canvas.saveState()
            canvas.translate(item.x, height - item.y)
            canvas.doForm(form)
            for sign in pictures.signs(Keyboard(0, 0, *_without_place(item))):
                _call(canvas, sign, 0)
            canvas.restoreState()


def _without_place(item: Keyboard) -> tuple[object, ...]:
    return item.low, item.high, item.key_width, item.height, item.marks, item.resolves


def _form(canvas: Canvas, name: str, item: Keyboard) -> None:
    unit, tall = item.key_width, item.height
    canvas.beginForm(name)
    for white in range(pictures.white_count(item.low, item.high)):
        canvas.rect(white * unit, -tall, unit, tall)
    canvas.setFillGray(0.85)
    for pitch in filter(is_black, range(item.low, item.high)):
        centre = pictures.key_centre(pitch, item.low) * unit
        canvas.rect(centre - unit / 4, -tall * 0.6, unit / 2, tall * 0.6, fill=1)
    canvas.endForm()


_BAR = re.compile(r"(:?\|+:?(?:\s*x[0-9]+)?(?:[0-9][.,0-9]*\.)?)|([^|:]+)")
_MARK = re.compile(
    r"\s*(?:(<?)\(?([A-G](?:##?|bb?)?)((?:6/9|[^/=\s()])*(?:\([^)]*\))?)(?:/([A-G](?:##?|bb?)?))?\)?(?:=(\S*))?"
    r"|(/|%|rest|N\.C\.)|(hold|stop|accent|roll)|(short )?([0-9]+)/([0-9]+))(?=\s|$)"
)
_FACT = re.compile(r"([a-z]+)\s+(.*)")
_STAR = re.compile(r"\*")


def by_regex(text: str) -> list[tuple[object, ...]]:
    """Read a song's facts, rows and words by regular expressions alone, into plain tuples, and check nothing.

    It finds what a Song holds of the lines as they stand, with their places: each mark with its start and length in
    the bar, each piece of words with the chord that it stands under. It takes every line for well typed, works out no
    repeats, copies or playing order, and gives no kinds of chords, only their letters.
    """
    found: list[tuple[object, ...]] = []
    beats, unit = 4, 4
    at = 0
    for line in text.split("\n"):
        body = line.strip()
        start = at + len(line) - len(line.lstrip())
        at += len(line) + 1
        if not body or body[0] == "#":
            continue
        if body[0] == "|":
            bars = []
            sign = ""
            for piece in _BAR.finditer(body):
                if piece[1]:
                    sign = piece[1]
                elif piece[2].strip():
                    marks, beats, unit = _marks(piece[2].rstrip(), start + piece.start(), beats, unit)
                    bars.append((sign, beats, unit, start + piece.start(), marks))
            found.append(("chords", start, bars))
        elif body.startswith("sing"):
            cells = body[4:].strip().strip("|").split("|")
            place = start + body.index("|") + 1
            words = []
            for cell in cells:
                words.append(_pieces(cell, place))
                place += len(cell) + 1
            found.append(("sing", start, words))
        elif match := _FACT.match(body):
            if match[1] == "meter":
                beats, unit = map(int, match[2].split("/"))
            found.append((match[1], start + match.start(2), match[2]))
    return found


def _marks(cell: str, at: int, beats: int, unit: int) -> tuple[list[tuple[object, ...]], int, int]:
    marks: list[tuple[object, ...]] = []
    length = 0.0
    for mark in _MARK.finditer(cell):
        push, root, quality, bass, pins, sign, manner, short, top, bottom = mark.groups()
        if short:
            length = 4 * int(top) / int(bottom)
        elif top:
            beats, unit = int(top), int(bottom)
        elif manner:
            marks[-1] = (*marks[-1], manner)
        else:
            marks.append((sign or root, quality, bass, pins, bool(push), at + mark.start()))
    length = (length or 4 * beats / unit) / max(1, len(marks))
    return [(index * length, length, *mark) for index, mark in enumerate(marks)], beats, unit


def _pieces(cell: str, at: int) -> list[tuple[str, int, bool, int]]:
    pieces = []
    last, glued = 0, False
    for index, star in enumerate(_STAR.finditer(cell)):
        here = star.start()
        pieces.append((cell[last:here].strip(), index, glued, at + last))
        last = here + 1
        glued = here > 0 and cell[here - 1] not in " *" and cell[last : last + 1] not in ("", " ", "*")
    text = cell[last:].strip()
    if text or pieces:
        pieces.append((text.removesuffix("-"), len(pieces), glued, at + last))
    return pieces
