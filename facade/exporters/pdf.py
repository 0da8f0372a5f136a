"""Drawings as one PDF, a page each, true to size. Lines stay lines, words stay words, to be searched and copied.

A page's stream is made from its drawing where the drawing is, by several processes at once; the file is put together by pikepdf.
Words are set letter by letter in the face that comes with us (`faces.py`), without kerning. A file with a letter that is not in it, or
with letters that join, is set by typst instead (`typesetting.py`). Names of objects are those of ISO 32000-1.
"""

from __future__ import annotations

import base64
import hashlib
import io
import itertools
import math
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from facade.drawing import Anchor, Drawing, Label, Pen
from facade.errors import mistake
from facade.exporters.faces import PARTS, STYLES, Face, Glyph, Lacking, face
from facade.exporters.runs import Words, runs_as, showing
from facade.exporters.svg import FILLED, number, to_svg
from facade.printing.papers import LONGEST_PAGE

if TYPE_CHECKING:
    from pikepdf import Object, Pdf

_POINTS = 72 / 25.4
_LINES = Words("", " m ", " l ", " l ", " l h ")
# Most of what deflate can save, in a third of the time that its best takes.
_DEFLATE = 4


@dataclass(frozen=True)
class Picture:
    """A PNG on a page: the place of its upper left corner from that of the page, and its size, mm."""

    png: bytes
    left: float
    down: float
    width: float
    height: float


@dataclass(frozen=True)
class PdfPage:
    """A page: its size in mm, its lines and words as a PDF's stream, None where they hold a letter that we cannot set.

    `letters` are those beyond the usual, `sheet` is what the page shows as a drawing or as SVG, `pictures` lie under its lines, and
    `entry` is how it is called in the reader's list, "" for not at all.
    """

    width: float
    height: float
    stream: bytes | None
    letters: frozenset[str]
    sheet: Drawing | str
    pictures: tuple[Picture, ...] = ()
    entry: str = ""


def pdf_page(drawing: Drawing, *, svg: str | None = None, pictures: Sequence[Picture] = (), entry: str = "") -> PdfPage:
    """Return a drawing as a page; with its SVG, where that was made already, it need not be kept."""
    sheet = drawing if svg is None else svg
    letters = frozenset().union(*(label.text for label in drawing.labels)) - face("plain").usual
    try:
        stream = zlib.compress("".join(_stream(drawing, pictures)).encode("ascii"), _DEFLATE)
    except Lacking:
        return PdfPage(drawing.width, drawing.height, None, letters, sheet, tuple(pictures), entry)
    return PdfPage(drawing.width, drawing.height, stream, letters, sheet, tuple(pictures), entry)


def to_pdf(title: str, pages: Sequence[PdfPage]) -> bytes:
    """Return a PDF; the same pages give the same bytes. Raises JobError for a page longer than readers open."""
    for page in pages:
        if max(page.width, page.height) > LONGEST_PAGE:
            raise mistake(
                "paper",
                f"a page of {page.width:.0f} x {page.height:.0f} mm is larger than readers open ({LONGEST_PAGE:.0f} mm): "
                "print it in tiles, on cut paper or a roll",
            )
    if any(page.stream is None for page in pages):
        from facade.exporters.typesetting import Typed, typeset

        return typeset(title, [Typed(_svg(page), page.width, page.height, page.entry) for page in pages])
    return _joined(title, pages)


def make_ready() -> None:
    """Read what putting a file together needs, beside the pages that are being made."""
    import pikepdf  # noqa: F401


def to_picture(pdf: bytes, dots: float) -> bytes:
    """Return the first page of a PDF as a PNG with so many dots to the inch."""
    import pypdfium2  # type: ignore[import-untyped, unused-ignore]

    file = io.BytesIO()
    document = pypdfium2.PdfDocument(pdf)
    document[0].render(scale=dots / 72).to_pil().save(file, "PNG")
    return file.getvalue()


# What is on a page. Its stream counts mm from the upper left corner, downwards, as an SVG does.


def _stream(drawing: Drawing, pictures: Sequence[Picture]) -> Iterator[str]:
    yield f"{_POINTS:.8f} 0 0 {-_POINTS:.8f} 0 {drawing.height * _POINTS:.6f} cm 1 j\n"
    for index, one in enumerate(pictures):
        place = (one.width, -one.height, one.left, one.down + one.height)
        width, height, left, down = (f"{value:.4f}" for value in place)
        yield f"q {width} 0 0 {height} {left} {down} cm /P{index} Do Q\n"
    yield from _lines(drawing)
    yield from _words(drawing)


def _lines(drawing: Drawing) -> Iterator[str]:
    paths = drawing.paths
    texts = zip(runs_as(_LINES, paths, drawing.height), showing(paths, drawing.height), strict=True)
    for pen, some in itertools.groupby(paths, key=lambda path: path.pen):
        yield _pen(pen)
        paint = "f\n" if pen in FILLED else "S\n"
        for text, shows in itertools.islice(texts, sum(1 for _ in some)):
            if shows:
                yield text + paint


@lru_cache(maxsize=len(Pen))
def _pen(pen: Pen) -> str:
    grey = number(round(pen.grey * 255) / 255)
    if pen in FILLED:
        return f"{grey} g\n"
    return f"{grey} G {number(pen.width)} w [{' '.join(map(number, pen.dashes))}] 0 d\n"


def _words(drawing: Drawing) -> Iterator[str]:
    yield "0 g BT\n"
    labels = (label for label in drawing.labels if label.text)
    for (size, bold), some in itertools.groupby(labels, key=lambda label: (label.size, label.bold)):
        style = "bold" if bold else "plain"
        yield f"/{style} {number(size)} Tf\n"
        for label in some:
            codes, wide = _set(style, label.text)
            yield f"{_place(label, drawing.height, wide * label.size / PARTS)} Tm <{codes}> Tj\n"
    yield "ET"


@lru_cache(maxsize=1 << 14)
def _set(style: str, text: str) -> tuple[str, int]:
    """Return the numbers of the glyphs of a text, and how wide they are together, in parts of the type's height; raises Lacking."""
    known = face(style)
    glyphs = [known[letter] for letter in text]
    return "".join([f"{index:04X}" for index, _ in glyphs]), sum([width for _, width in glyphs])


def _place(label: Label, height: float, wide: float) -> str:
    """Return the matrix of words that are so wide, mm."""
    back = {Anchor.START: 0.0, Anchor.MIDDLE: wide / 2, Anchor.END: wide}[label.anchor]
    x, y = float(number(label.x)), float(number(height - label.y))
    if not label.turn:
        return f"1 0 0 -1 {number(x - back)} {number(y)}"
    cosine, sine = math.cos(math.radians(label.turn)), math.sin(math.radians(label.turn))
    across, up = f"{cosine:.6f}", f"{-sine:.6f}"
    return f"{across} {up} {up} {-cosine:.6f} {number(x - back * cosine)} {number(y + back * sine)}"


# The file.


def _joined(title: str, pages: Sequence[PdfPage]) -> bytes:
    """Return the pages as one file; a font is in it once, as are pictures, cut down to the letters that are used."""
    from pikepdf import Array, Dictionary, Name, ObjectStreamMode, OutlineItem, Page, Pdf, String

    pdf = Pdf.new()
    letters = frozenset().union(*(page.letters for page in pages))
    fonts = pdf.make_indirect(Dictionary({f"/{style}": _font(pdf, face(style), letters) for style in STYLES}))
    for page in pages:
        assert page.stream is not None
        resources = Dictionary(Font=fonts)
        if page.pictures:
            images = {f"/P{index}": _image(pdf, one.png) for index, one in enumerate(page.pictures)}
            resources.XObject = Dictionary(images)
        size = [Decimal(f"{side * _POINTS:.4f}") for side in (page.width, page.height)]
        stream = _packed(pdf, page.stream)
        own = Dictionary(Type=Name.Page, MediaBox=Array([0, 0, *size]), Resources=resources, Contents=stream)
        pdf.pages.append(Page(pdf.make_indirect(own)))
    with pdf.open_outline() as outline:
        outline.root.extend(
            OutlineItem(page.entry, index, "XYZ", left=0, top=math.ceil(page.height * _POINTS))
            for index, page in enumerate(pages)
            if page.entry
        )
    pdf.docinfo.Title, pdf.docinfo.Author = String(title), String("facade")
    pdf.Root.Lang = String("en")
    # What is true to size asks the reader not to fit it to the page.
    pdf.Root.ViewerPreferences = Dictionary(PrintScaling=Name("/None"), DisplayDocTitle=True)
    file = io.BytesIO()
    pdf.save(file, object_stream_mode=ObjectStreamMode.disable, deterministic_id=True)
    return file.getvalue()


def _packed(pdf: Pdf, data: bytes, **more: Any) -> Object:
    """Return a stream of deflated data."""
    from pikepdf import Name, Stream

    return pdf.make_indirect(Stream(pdf, data, Filter=Name.FlateDecode, **more))


def _font(pdf: Pdf, known: Face, letters: frozenset[str]) -> Object:
    """Return a font with the usual letters and some more, coded by the numbers of its glyphs."""
    from pikepdf import Array, Dictionary, Name, String

    data, glyphs = known.data(letters)
    about = known.measures
    name = Name(f"/{_tag(glyphs)}+{about['name']}")
    file = _packed(pdf, zlib.compress(data), Length1=len(data))
    descriptor = Dictionary(
        Type=Name.FontDescriptor,
        FontName=name,
        Flags=4,
        FontBBox=Array(about["box"]),
        ItalicAngle=0,
        Ascent=about["ascent"],
        Descent=about["descent"],
        CapHeight=about["capitals"],
        StemV=about["stem"],
        FontFile2=file,
    )
    within = Dictionary(
        Type=Name.Font,
        Subtype=Name.CIDFontType2,
        BaseFont=name,
        CIDSystemInfo=Dictionary(Registry=String("Adobe"), Ordering=String("Identity"), Supplement=0),
        FontDescriptor=pdf.make_indirect(descriptor),
        CIDToGIDMap=Name.Identity,
        W=Array([part for index, width in sorted(glyphs.values()) for part in (index, Array([width]))]),
    )
    return pdf.make_indirect(
        Dictionary(
            Type=Name.Font,
            Subtype=Name.Type0,
            BaseFont=name,
            Encoding=Name("/Identity-H"),
            DescendantFonts=Array([pdf.make_indirect(within)]),
            ToUnicode=_packed(pdf, zlib.compress(_letters_of(glyphs))),
        )
    )


def _tag(glyphs: dict[str, Glyph]) -> str:
    """Return the six capitals that tell a part of a face from other parts."""
    digest = hashlib.sha256("".join(glyphs).encode("utf-8")).digest()
    return "".join(chr(ord("A") + byte % 26) for byte in digest[:6])


def _letters_of(glyphs: dict[str, Glyph]) -> bytes:
    """Return which letter each glyph stands for, so that a reader finds words again."""
    lines = [f"<{index:04X}> <{letter.encode('utf-16-be').hex().upper()}>" for letter, (index, _) in glyphs.items()]
    # At most a hundred stand together.
    blocks = [lines[first : first + 100] for first in range(0, len(lines), 100)]
    said = [f"{len(block)} beginbfchar\n" + "\n".join(block) + "\nendbfchar\n" for block in blocks]
    return (
        "/CIDInit /ProcSet findresource begin\n12 dict begin\nbegincmap\n"
        "/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def\n"
        "/CMapName /Adobe-Identity-UCS def\n/CMapType 2 def\n"
        "1 begincodespacerange\n<0000> <FFFF>\nendcodespacerange\n"
        f"{''.join(said)}endcmap\nCMapName currentdict /CMap defineresource pop\nend\nend\n"
    ).encode("ascii")


def _image(pdf: Pdf, png: bytes) -> Object:
    """Return a picture of 8 bits, grey or coloured; its pixels are packed as those of a PNG are."""
    from pikepdf import Dictionary, Name
    from PIL import Image

    with Image.open(io.BytesIO(png)) as picture:
        plain = picture if picture.mode in ("L", "RGB") else picture.convert("RGB")
        file = io.BytesIO()
        plain.save(file, "PNG", compress_level=1, compress_type=zlib.Z_RLE)
        (wide, high), colours = plain.size, len(plain.getbands())
    return _packed(
        pdf,
        b"".join(_pixels(file.getvalue())),
        Type=Name.XObject,
        Subtype=Name.Image,
        Width=wide,
        Height=high,
        BitsPerComponent=8,
        ColorSpace=Name.DeviceRGB if colours == 3 else Name.DeviceGray,
        DecodeParms=Dictionary(Predictor=15, Colors=colours, BitsPerComponent=8, Columns=wide),
    )


def _pixels(png: bytes) -> Iterator[bytes]:
    """Yield the deflated pixels of a PNG: its chunks hold length, name, data and a check (ISO 15948, 5.3)."""
    at = 8
    while at < len(png):
        length, name = int.from_bytes(png[at : at + 4], "big"), png[at + 4 : at + 8]
        if name == b"IDAT":
            yield png[at + 8 : at + 8 + length]
        at += length + 12


def _svg(page: PdfPage) -> str:
    """Return a page as SVG, its pictures under its lines."""
    text = page.sheet if isinstance(page.sheet, str) else to_svg(page.sheet)
    images = [
        f'<image x="{one.left:.3f}" y="{one.down:.3f}" width="{one.width:.3f}" height="{one.height:.3f}" '
        f'preserveAspectRatio="none" xlink:href="data:image/png;base64,{base64.b64encode(one.png).decode("ascii")}" />'
        for one in page.pictures
    ]
    return text.replace("</title>", f"</title>{''.join(images)}", 1)
