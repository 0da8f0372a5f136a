"""Reading back what was written with readers that are not ours."""

from __future__ import annotations

import csv
import io
import shutil
import subprocess
from pathlib import Path

import numpy as np
import trimesh
from PIL import Image


def svg_paths(text: str) -> dict[str, np.ndarray]:
    """Return the named paths of an SVG as places (points, 2) in mm, y down; read by svgelements."""
    from svgelements import SVG

    # At 25.4 pixels an inch the reader's pixel is a millimetre.
    drawing = SVG.parse(io.StringIO(text), ppi=25.4)
    return {
        element.id: np.array([[point.x, point.y] for point in element.as_points()])
        for element in drawing.elements()
        if getattr(element, "id", None) and hasattr(element, "as_points")
    }


def rasterised(text: str, dots_per_inch: int) -> np.ndarray:
    """Return an SVG as a picture of 0 (black) to 255, (rows, columns); drawn by librsvg, or by resvg where that is missing."""
    if shutil.which("rsvg-convert"):
        command = ["rsvg-convert", "-d", str(dots_per_inch), "-p", str(dots_per_inch), "--background-color", "white"]
        data = subprocess.run(command, input=text.encode(), capture_output=True, check=True).stdout
    else:
        import resvg_py

        data = bytes(resvg_py.svg_to_bytes(svg_string=text, background="#ffffff", dpi=96, zoom=dots_per_inch / 96))
    return np.asarray(Image.open(io.BytesIO(data)).convert("L"))


def mesh_of(path: Path) -> trimesh.Trimesh:
    """Return the mesh in an STL, its equal corners merged; read by trimesh."""
    return trimesh.load(path, force="mesh")


def table(path: Path) -> list[dict[str, str]]:
    """Return the lines of a CSV by their column's names."""
    with path.open(newline="", encoding="utf-8") as stream:
        return list(csv.DictReader(stream))


def pdf_lines(data: bytes, page: int = 0) -> list[tuple[np.ndarray, float]]:
    """Return the lines on a page of a PDF: places (points, 2) in mm from the lower left corner, and their width, mm; by pdfium."""
    import ctypes

    import pypdfium2
    import pypdfium2.raw as raw

    found = []
    document = pypdfium2.PdfDocument(data)
    for path in document[page].get_objects(filter=[raw.FPDF_PAGEOBJ_PATH], max_depth=8):
        a, b, c, d, e, f = path.get_matrix().get()
        places = []
        for index in range(raw.FPDFPath_CountSegments(path)):
            x, y = ctypes.c_float(), ctypes.c_float()
            raw.FPDFPathSegment_GetPoint(raw.FPDFPath_GetPathSegment(path, index), x, y)
            places.append((a * x.value + c * y.value + e, b * x.value + d * y.value + f))
        width = ctypes.c_float()
        raw.FPDFPageObj_GetStrokeWidth(path, width)
        found.append((np.array(places) * 25.4 / 72, width.value * abs(a) * 25.4 / 72))
    return found


def pdf_sizes(data: bytes) -> list[tuple[float, float]]:
    """Return width and height of every page of a PDF, mm; read by pypdf."""
    import pypdf

    boxes = [page.mediabox for page in pypdf.PdfReader(io.BytesIO(data)).pages]
    return [(float(box.width) * 25.4 / 72, float(box.height) * 25.4 / 72) for box in boxes]


def pdf_words(data: bytes, page: int) -> str:
    """Return the words on a page of a PDF without the spaces between them; read by pypdf."""
    import pypdf

    return "".join(pypdf.PdfReader(io.BytesIO(data)).pages[page].extract_text().split())
