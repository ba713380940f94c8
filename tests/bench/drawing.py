"""How fast pages are drawn, as ratios measured side by side in one run: `python -m tests.bench.drawing`.

- *bare* (the unit L): the same marks drawn by a loop that does nothing else: places and codes of all texts and paths
  are known, font subsets are finished; only the content streams are put together and the file is written.
- *usual* (A5): the same items through the canvas of reportlab, call by call, the keyboard bed as a form.
"""

from __future__ import annotations

import io
import statistics
import time
from collections.abc import Callable

from reportlab.pdfbase import pdfmetrics, ttfonts
from reportlab.pdfbase.pdfdoc import (
    PDFArray,
    PDFDictionary,
    PDFDocument,
    PDFName,
    PDFPage,
    PDFStream,
    PDFZCompress,
)
from reportlab.pdfgen.canvas import Canvas

from arranger.layout import style
from arranger.layout.content import pictures
from arranger.layout.model import Box, Disc, Document, Item, Keyboard, Line, Shape, Text, Tie
from arranger.layout.options import PartOptions
from arranger.layout.pages.players_part import lay_out
from arranger.pdf.fonts import finished, metrics, subsets
from arranger.pdf.write import to_bytes
from arranger.resources import FONT_FILES, font_path
from arranger.theory.pitch import is_black
from arranger.units import A4, number
from tests.layout import songs

ROUNDS = 40
GOAL = {"drawing / bare": (3.0, 1.0), "drawing / usual": (0.6, None)}

Stroke = tuple[str, tuple[float, ...]]  # operators with places for numbers, and the numbers


def reference() -> Document:
    """Lay out a song of two pages: verses, a chorus and an ending."""
    return lay_out(songs.arranged(songs.lanterns()), metrics(), PartOptions(A4, "29 November"))[0]


def strokes(document: Document) -> list[tuple[list[Stroke], list[tuple[str, str, float, float]]]]:
    """Prepare the bare drawing: for each page its paths and its texts as (font and size, string, x, y)."""
    prepared = []
    for page in document.pages:
        paths: list[Stroke] = []
        texts = []
        for item in page.items:
            if isinstance(item, Text):
                string = item.text.encode("latin-1", "replace").decode("latin-1")
                escaped = string.replace("\\", r"\\").replace("(", r"\(").replace(")", r"\)")
                font = f"/F{('bold', 'music', 'regular').index(item.face) + 1} {number(item.size)} Tf"
                texts.append((font, escaped, item.x, page.height - item.y))
            else:
                paths += _paths(item, page.height)
        prepared.append((paths, texts))
    return prepared


def _paths(item: Item, height: float) -> list[Stroke]:
    match item:
        case Line():
            return [
                ("%.2f w %.2f %.2f m %.2f %.2f l S", (item.width, item.x1, height - item.y1, item.x2, height - item.y2))
            ]
        case Box():
            return [("%.2f %.2f %.2f %.2f re f", (item.x, height - item.y - item.height, item.width, item.height))]
        case Disc():
            x, y, r = item.x, height - item.y, item.radius
            k = 0.5523 * r
            curve = "%.2f %.2f m" + " %.2f %.2f %.2f %.2f %.2f %.2f c" * 4 + " f"
            corners = (x + r, y, x + r, y + k, x + k, y + r, x, y + r, x - k, y + r, x - r, y + k, x - r, y)
            lower = (x - r, y - k, x - k, y - r, x, y - r, x + k, y - r, x + r, y - k, x + r, y)
            return [(curve, (*corners, *lower))]
        case Shape():
            numbers = [n for point in item.points for n in (point.x, height - point.y)]
            return [("%.2f %.2f m" + " %.2f %.2f l" * (len(item.points) - 1) + " f", tuple(numbers))]
        case Tie():
            y = height - item.y
            return [
                (
                    "%.2f %.2f m %.2f %.2f %.2f %.2f %.2f %.2f c S",
                    (item.x1, y, item.x1, y + item.rise, item.x2, y + item.rise, item.x2, y),
                )
            ]
        case Keyboard():
            bed = _bed(item)
            signs = [one for sign in pictures.signs(item) for one in _paths(sign, height)]
            return [("q 1 0 0 1 %.2f %.2f cm " + bed + " Q", (item.x, height - item.y)), *signs]
        case _:
            return []


def _bed(item: Keyboard) -> str:
    count = pictures.white_count(item.low, item.high)
    white = " ".join(f"{i * item.key_width:.2f} 0 {item.key_width:.2f} {-item.height:.2f} re" for i in range(count))
    black = " ".join(
        f"{(pictures.key_centre(key, item.low) - 0.3) * item.key_width:.2f} 0 {0.6 * item.key_width:.2f} "
        f"{-0.6 * item.height:.2f} re"
        for key in range(item.low, item.high)
        if is_black(key)
    )
    return f"{white} S {black} B"


def bare(document: Document) -> Callable[[], bytes]:
    """Give the bare drawing of a document."""
    prepared = strokes(document)
    used = {face: {c for p in document.pages for i in p.items if isinstance(i, Text) and i.face == face for c in i.text}
            for face in ("bold", "music", "regular")}  # fmt: skip
    fonts = [finished(face, subsets(face, used[face])[0], 0) for face in ("bold", "music", "regular")]

    def draw() -> bytes:
        pdf = PDFDocument(dummyoutline=1, invariant=1, compression=1)
        references = {}
        for index, font in enumerate(fonts, 1):
            program = PDFStream(PDFDictionary({"Filter": PDFName("FlateDecode")}), font.program)
            reference = pdf.Reference(program, f"P{index}")
            descriptor = PDFDictionary({"Type": PDFName("FontDescriptor"), "FontFile2": reference})
            made = PDFDictionary(
                {
                    "Type": PDFName("Font"),
                    "Subtype": PDFName("TrueType"),
                    "Widths": PDFArray(list(font.widths)),
                    "FontDescriptor": pdf.Reference(descriptor, f"D{index}"),
                }
            )
            references[f"F{index}"] = pdf.Reference(made, f"F{index}")
        for paths, texts in prepared:
            operators = [pattern % numbers for pattern, numbers in paths]
            operators.append("BT")
            last = ""
            for font, string, x, y in texts:
                if font != last:
                    operators.append(font)
                    last = font
                operators.append(f"1 0 0 1 {x:.2f} {y:.2f} Tm ({string}) Tj")
            operators.append("ET")
            page = PDFPage()
            page.MediaBox = PDFArray([0, 0, 595.28, 841.89])
            page.Resources = PDFDictionary({"Font": PDFDictionary(references)})
            page.Contents = PDFStream(content="\n".join(operators).encode("latin-1"), filters=[PDFZCompress])
            pdf.addPage(page)
        pdf.Reference(pdf.Catalog)
        pdf.Reference(pdf.info)
        data: bytes = pdf.format()
        return data

    return draw


def usual(document: Document) -> Callable[[], bytes]:
    """Give the drawing through reportlab's canvas, call by call. Faces are parsed before."""
    for face, name in FONT_FILES.items():
        pdfmetrics.registerFont(ttfonts.TTFont(f"bench-{face}", str(font_path(name))))

    def draw() -> bytes:
        canvas = Canvas(io.BytesIO(), pagesize=(595.28, 841.89), invariant=1, pageCompression=1)
        for page in document.pages:
            for item in page.items:
                _call(canvas, item, page.height)
            canvas.showPage()
        data: bytes = canvas.getpdfdata()
        return data

    return draw


def _call(canvas: Canvas, item: Item, height: float) -> None:
    match item:
        case Text():
            canvas.setFont(f"bench-{item.face}", item.size)
            canvas.drawString(item.x, height - item.y, item.text)
        case Line():
            canvas.setLineWidth(item.width)
            canvas.line(item.x1, height - item.y1, item.x2, height - item.y2)
        case Box():
            canvas.rect(item.x, height - item.y - item.height, item.width, item.height, stroke=0, fill=1)
        case Disc():
            canvas.circle(item.x, height - item.y, item.radius, stroke=0, fill=1)
        case Shape():
            path = canvas.beginPath()
            path.moveTo(item.points[0].x, height - item.points[0].y)
            for point in item.points[1:]:
                path.lineTo(point.x, height - point.y)
            canvas.drawPath(path, stroke=0, fill=1)
        case Tie():
            y = height - item.y
            canvas.bezier(item.x1, y, item.x1, y + item.rise, item.x2, y + item.rise, item.x2, y)
        case Keyboard():
            name = f"bed{item.low}-{item.high}-{item.key_width}"
            if not canvas.hasForm(name):
                _form(canvas, name, item)
            canvas.saveState()
            canvas.translate(item.x, height - item.y)
            canvas.doForm(name)
            canvas.restoreState()
            for sign in pictures.signs(item):
                _call(canvas, sign, height)


def _form(canvas: Canvas, name: str, item: Keyboard) -> None:
    canvas.beginForm(name, -1, -item.height - 1, 400, 1)
    canvas.setLineWidth(style.HAIR)
    for i in range(pictures.white_count(item.low, item.high)):
        canvas.rect(i * item.key_width, -item.height, item.key_width, item.height)
    canvas.setFillGray(style.BLACK_KEY_TINT)
    for key in range(item.low, item.high):
        if is_black(key):
            left = (pictures.key_centre(key, item.low) - 0.3) * item.key_width
            canvas.rect(left, -0.6 * item.height, 0.6 * item.key_width, 0.6 * item.height, fill=1)
    canvas.endForm()


def main() -> None:
    """Measure in interleaved rounds and print medians, ratios and goals."""
    document = reference()
    items = [item for page in document.pages for item in page.items]
    texts = sum(isinstance(item, Text) for item in items)
    shown = sum(isinstance(item, Keyboard) for item in items)
    print(f"{len(document.pages)} pages, {texts} texts, {shown} pictures, {len(to_bytes(document))} bytes")
    ways = {"drawing": lambda: to_bytes(document), "bare": bare(document), "usual": usual(document)}
    seconds: dict[str, list[float]] = {name: [] for name in ways}
    for way in ways.values():
        way()
    for _ in range(ROUNDS):
        for name, way in ways.items():
            start = time.perf_counter()
            way()
            seconds[name].append(time.perf_counter() - start)
    median = {name: statistics.median(times) for name, times in seconds.items()}
    for name, value in median.items():
        print(f"{name:8} {value * 1000:6.2f} ms")
    for name, (goal, stretch) in GOAL.items():
        one, other = name.split(" / ")
        ratio = median[one] / median[other]
        wished = f", stretch {stretch}" if stretch else ""
        print(f"{name:16} {ratio:5.2f}  (goal {goal}{wished})")


if __name__ == "__main__":
    main()
