"""PDFs read back by readers that are not ours: lines beside the same drawing as SVG, words and where they stand, the file itself."""

from __future__ import annotations

import ctypes
import io
import os
import subprocess
import sys

import numpy as np
import pypdf
import pypdfium2
import pypdfium2.raw as raw
import pytest
from fontTools.pens.recordingPen import DecomposingRecordingPen
from fontTools.ttLib import TTFont
from helpers import small_front
from PIL import Image
from readers import pdf_lines, rasterised

from facade.drawing import Anchor, Drawing, Pen
from facade.exporters import faces
from facade.exporters.pdf import Picture, pdf_page, to_pdf, to_picture
from facade.exporters.svg import to_svg
from facade.paper import Order, pack_of, paper_files
from facade.printing.papers import sheet_paper
from facade.templates.piece import Kind

MM = 25.4 / 72
# numpy's own threads would hide others.
ENV = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}


def pdf_of(*drawings: Drawing, title: str = "Doors") -> bytes:
    return to_pdf(title, [pdf_page(drawing) for drawing in drawings])


def with_words(text: str, anchor: Anchor = Anchor.START, turn: float = 0.0, *, bold: bool = False) -> Drawing:
    drawing = Drawing(210, 297, "words")
    drawing.label(text, 100, 150, 4.0, anchor, turn=turn, bold=bold)
    return drawing


def read(data: bytes) -> pypdf.PdfReader:
    """The file as pypdf reads it, which refuses what is not as the standard has it."""
    return pypdf.PdfReader(io.BytesIO(data), strict=True)


# Lines


def every_pen() -> Drawing:
    """Lines, corners, shapes and circles of every pen, over each other."""
    drawing = Drawing(180, 120, "pens")
    for index, pen in enumerate(Pen):
        y = 5.0 + 5.5 * index
        drawing.lines([[[8, y], [60, y + 1]], [[64, y], [70, y + 4]]], pen)
        drawing.line([[75, y], [95, y + 3.3], [97, y], [115, y + 0.7]], pen)
        drawing.shape([[120, y], [150, y], [135, y + 4.4]], pen)
        drawing.circle(160, y, 2.5, pen)
    return drawing


def test_lines_look_as_in_the_svg() -> None:
    """Widths, dashes, greys, fills, ends and corners: drawn by pdfium and by the SVG's renderer, of which neither is ours."""
    drawing = every_pen()
    found = np.asarray(pypdfium2.PdfDocument(pdf_of(drawing))[0].render(scale=600 / 72).to_pil().convert("L")).astype(
        int
    )
    wanted = rasterised(to_svg(drawing), 600).astype(int)
    high, wide = (min(sides) for sides in zip(found.shape, wanted.shape, strict=True))
    apart = np.abs(found[:high, :wide] - wanted[:high, :wide])
    # Renderers lay grey along edges each in its own way.
    assert (apart > 140).mean() < 1e-4


def test_each_pen_has_its_width_and_grey() -> None:
    for pen in Pen:
        drawing = Drawing(50, 50, "pen")
        drawing.line([[5, 5], [45, 5], [45, 20]], pen)
        document = pypdfium2.PdfDocument(pdf_of(drawing))
        path = next(document[0].get_objects(filter=[raw.FPDF_PAGEOBJ_PATH]))
        red, green, blue, clear = (ctypes.c_uint() for _ in range(4))
        filled = pen.width == 0
        (raw.FPDFPageObj_GetFillColor if filled else raw.FPDFPageObj_GetStrokeColor)(path, red, green, blue, clear)
        assert (red.value, green.value, blue.value) == (round(pen.grey * 255),) * 3
        if not filled:
            assert pdf_lines(pdf_of(drawing))[0][1] == pytest.approx(pen.width, abs=1e-4)
            assert raw.FPDFPageObj_GetDashCount(path) == len(pen.dashes)


def test_places_are_true_to_a_thousandth() -> None:
    drawing = Drawing(1188.4567, 841.3333, "places")
    places = np.random.default_rng(3).uniform(0, 800, (40, 2))
    drawing.line(places, Pen.CARVE)
    ((found, _),) = pdf_lines(pdf_of(drawing))
    assert np.abs(found - places).max() < 0.0011


def test_a_line_from_a_place_to_itself_is_left_out() -> None:
    drawing = Drawing(50, 50, "still")
    drawing.line([[5, 5], [5, 5.0001]], Pen.CARVE)
    drawing.line([[5, 5], [5, 6]], Pen.CARVE)
    assert len(pdf_lines(pdf_of(drawing))) == 1


# Words


ODD = "Größe Ñandú Łódź žluťoučký Ωμέγα Ширина 21.5 → ½ “A” – ‘b’ ≈ Ø12 · (3) \\ < > & 'x'"


@pytest.mark.parametrize("bold", [False, True])
def test_words_are_found_again(bold: bool) -> None:
    data = pdf_of(with_words(ODD, bold=bold))
    assert "".join(read(data).pages[0].extract_text().split()) == "".join(ODD.split())
    assert pypdfium2.PdfDocument(data)[0].get_textpage().get_text_range() == ODD


@pytest.mark.parametrize("text", ["Strip 17 LEFT", "AVATAR To Wf", "WWWW", "iiii", "Mark 7Q2M-X4KD", "Ширина"])
@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("turn", [0.0, 90.0, -90.0, 30.0])
def test_words_end_where_they_are_placed(text: str, bold: bool, turn: float) -> None:
    """How wide words are is added up here from the face's own table of advances, without kerning."""
    font = TTFont(faces.FONTS / faces.STYLES["bold" if bold else "plain"])
    names, advances = font.getBestCmap(), font["hmtx"]
    width = sum(advances[names[ord(letter)]][0] for letter in text) / font["head"].unitsPerEm * 4.0
    way = np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn))])
    for anchor, share in ((Anchor.START, 0.0), (Anchor.MIDDLE, 0.5), (Anchor.END, 1.0)):
        page = pypdfium2.PdfDocument(pdf_of(with_words(text, anchor, turn, bold=bold)))[0].get_textpage()
        places = np.array([origin(page, index) for index in range(page.count_chars())])
        assert places[0] == pytest.approx(np.array([100, 150]) - share * width * way, abs=0.02)
        last = advances[names[ord(text[-1])]][0] / font["head"].unitsPerEm * 4.0
        assert places[-1] == pytest.approx(places[0] + way * (width - last), abs=0.02)


def origin(page: pypdfium2.PdfTextPage, index: int) -> tuple[float, float]:
    x, y = ctypes.c_double(), ctypes.c_double()
    raw.FPDFText_GetCharOrigin(page, index, x, y)
    return x.value * MM, y.value * MM


@pytest.mark.parametrize("style", sorted(faces.STYLES))
def test_the_cut_faces_show_what_the_whole_ones_do(style: str) -> None:
    """Every letter that was cut beforehand has the outline and the advance of the face in `fonts/`, read by fontTools."""
    whole, cut = TTFont(faces.FONTS / faces.STYLES[style]), TTFont(faces.CUT / f"{style}.ttf")
    known, names = faces.face(style), whole.getBestCmap()
    assert set(map(chr, range(0x20, 0x7F))) < known.usual
    for letter in known.usual:
        index, width = known[letter]
        assert whole.getGlyphID(names[ord(letter)]) == index
        assert width == pytest.approx(whole["hmtx"][names[ord(letter)]][0] * 1000 / 2048, abs=0.501)
        drawn = []
        for font in (whole, cut):
            pen = DecomposingRecordingPen(font.getGlyphSet())
            font.getGlyphSet()[font.getGlyphName(index)].draw(pen)
            drawn.append(pen.value)
        assert drawn[0] == drawn[1]


def test_letters_beyond_the_usual_are_seen() -> None:
    """A page in Greek shows ink where the same page in the whole face does; drawn by the SVG's renderer where that has the face."""
    usual, greek = pdf_of(with_words("o")), pdf_of(with_words("ω ж ł"))
    inks = [
        int((np.asarray(pypdfium2.PdfDocument(data)[0].render(scale=6).to_pil().convert("L")) < 128).sum())
        for data in (usual, greek)
    ]
    assert inks[1] > 2.5 * inks[0] > 0


@pytest.mark.parametrize("text", ["日本", "ذهب", "a\u0301", "🌊"])
def test_letters_that_are_not_ours_to_set_go_another_way(text: str) -> None:
    assert pdf_page(with_words(text)).stream is None
    data = pdf_of(with_words(f"Doors {text}"), Drawing(100, 50, "more"), title=f"{text} & doors")
    sizes = [[round(side * MM, 1) for side in pypdfium2.PdfDocument(data)[page].get_size()] for page in range(2)]
    assert sizes == [[210, 297], [100, 50]]
    assert read(data).metadata.title == f"{text} & doors"
    assert "Doors" in read(data).pages[0].extract_text()


# The file


def test_title_author_entries_and_sizes() -> None:
    pages = [
        pdf_page(Drawing(210, 297, ""), entry="Read me first"),
        pdf_page(Drawing(297, 210, "")),
        pdf_page(Drawing(1000, 610.5, ""), entry='Łists (& "more")'),
    ]
    file = read(to_pdf('Doors (2), "A" \\ Größe', pages))
    assert (file.metadata.title, file.metadata.author) == ('Doors (2), "A" \\ Größe', "facade")
    assert [(entry.title, file.get_destination_page_number(entry)) for entry in file.outline] == [
        ("Read me first", 0),
        ('Łists (& "more")', 2),
    ]
    sizes = [[float(side) * MM for side in page.mediabox[2:]] for page in file.pages]
    assert np.abs(np.array(sizes) - [[210, 297], [297, 210], [1000, 610.5]]).max() < 1e-4


def test_the_file_asks_not_to_be_fitted_to_the_page() -> None:
    assert read(pdf_of(every_pen())).root_object["/ViewerPreferences"]["/PrintScaling"] == "/None"


def test_a_picture_lies_where_it_was_put_and_under_the_lines() -> None:
    colours = np.array([[[200, 30, 30], [30, 200, 30]], [[30, 30, 200], [180, 180, 30]]], dtype=np.uint8)
    file = io.BytesIO()
    Image.fromarray(np.repeat(np.repeat(colours, 20, 0), 20, 1)).save(file, "PNG")
    drawing = Drawing(100, 80, "picture")
    drawing.shape([[30, 50], [31, 50], [31, 51], [30, 51]], Pen.SOLID)
    page = pdf_page(drawing, pictures=[Picture(file.getvalue(), 20, 10, 40, 30)])
    with Image.open(io.BytesIO(to_picture(to_pdf("picture", [page]), 254))) as seen:
        assert seen.size == pytest.approx((1000, 800), abs=1)
        at = {(x, y): seen.convert("RGB").getpixel((x, y)) for x in (250, 550) for y in (150, 350)}
        assert seen.convert("RGB").getpixel((305, 295)) == (0, 0, 0)
        assert seen.convert("RGB").getpixel((650, 150)) == (255, 255, 255)
    wanted = {
        (250, 150): colours[0, 0],
        (550, 150): colours[0, 1],
        (250, 350): colours[1, 0],
        (550, 350): colours[1, 1],
    }
    for place, colour in wanted.items():
        assert np.abs(np.array(at[place]) - colour).max() <= 2


_ALONE = """
import sys
from facade.drawing import Drawing
from facade.exporters.pdf import pdf_page, to_pdf
from facade.processes import copies_possible
drawing = Drawing(100, 50, "alone")
drawing.label("Größe Łódź", 10, 10, 4)
before = copies_possible()
data = to_pdf("alone", [pdf_page(drawing)])
assert "typst" not in sys.modules
assert before or not sys.platform.startswith("linux")
assert copies_possible() == before
sys.stdout.buffer.write(data)
"""


def test_every_process_makes_the_same_bytes_and_can_be_copied_afterwards() -> None:
    made = [
        subprocess.run([sys.executable, "-c", _ALONE], env=ENV, capture_output=True, check=True).stdout
        for _ in range(2)
    ]
    assert made[0] == made[1]
    assert len(read(made[0]).pages) == 1


def test_a_pack_with_odd_letters_is_whole() -> None:
    for title in ("Łódź", "木の扉"):
        front = small_front(title=title)
        files = dict(paper_files(pack_of(front, Order(sheet_paper("A4"), kinds=(Kind.SIDES, Kind.FIRST)))))
        assert len(read(files["paper.pdf"]).pages) == len(files) - 1
        assert read(files["paper.pdf"]).metadata.title == f"{title}, mark {front.mark}"
