"""A drawing as DXF of 2010, to be cut: closed and open polylines and circles, a layer for each name, its unit in the header.

All that stands round them is alike in every file: `frame.dxf`, an empty drawing as ezdxf writes it, with open places in <angles>. Layers
and lines are written into it here, for ezdxf takes thirty times as long to make one of each.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from importlib.resources import files

import numpy as np

from facade.arrays import Array
from facade.drawing import Drawing, Path
from facade.errors import FacadeError
from facade.lengths import Unit

# DXF reference, $INSUNITS: 1 inch, 4 millimetre; $MEASUREMENT: 0 inches, 1 metric.
_INSUNITS = {Unit.INCH: 1, Unit.MM: 4}
_MEASUREMENT = {Unit.INCH: 0, Unit.MM: 1}
_DECIMALS = {Unit.INCH: 6, Unit.MM: 5}
# Two places nearer than this, mm, are one.
_SAME = 1e-4
# The first handle that the frame leaves free, what layers and lines belong to in it, and the layers that it has, in small letters.
_FREE, _LAYERS, _SPACE = 0x2F, 0x1, 0x17
_KNOWN = ("0", "defpoints")
# DXF reference, LAYER: 62 colour, 370 line weight; what 390 and 347 name is in the frame.
_LAYER = f"""  0\nLAYER\n  5\n%X\n330\n{_LAYERS:X}\n100\nAcDbSymbolTableRecord\n100\nAcDbLayerTableRecord
  2\n%s\n 70\n0\n 62\n7\n  6\nContinuous\n370\n-3\n390\n13\n347\n21\n"""
_ENTITY = f"  0\n%s\n  5\n%X\n330\n{_SPACE:X}\n100\nAcDbEntity\n  8\n%s\n"
# DXF reference, CIRCLE: 10, 20, 30 its middle, 40 its radius; LWPOLYLINE: 90 how many places, 70 whether closed, 10 and 20 each.
_CIRCLE = "100\nAcDbCircle\n 10\n%s\n 20\n%s\n 30\n0.0\n 40\n%s\n"
_POLYLINE, _PLACE = "100\nAcDbPolyline\n 90\n%d\n 70\n%d\n", " 10\n%s\n 20\n%s\n"


def to_dxf(drawing: Drawing, unit: Unit, origin: tuple[float, float] = (0.0, 0.0)) -> str:
    """Return the drawing's lines as DXF R2010 in `unit`; `origin` is the place on the drawing, mm, that becomes 0, 0.

    Every path is an LWPOLYLINE on the layer of its name, or a CIRCLE where it is round; closed ones run counter-clockwise, no place
    is doubled. No splines, blocks or text. The same drawing gives the same bytes. Raises FacadeError for what is not finite.
    """
    layers = _layers(drawing)
    lines = [line for path in drawing.paths for line in _lines(path, origin, unit)]
    first = _FREE + len(layers)
    after = first + len(lines)
    text = _frame()
    for place, words in {
        "unit": _INSUNITS[unit],
        "metric": _MEASUREMENT[unit],
        "layer count": len(_KNOWN) + len(layers),
        "first after": f"{after:X}",
        "second after": f"{after + 1:X}",
        "third after": f"{after + 2:X}",
        "next": f"{after + 3:X}",
        "layers": "".join(_LAYER % layer for layer in enumerate(layers, start=_FREE)),
        "entities": "".join(
            _ENTITY % (kind, handle, layer) + what for handle, (kind, layer, what) in enumerate(lines, start=first)
        ),
    }.items():
        text = text.replace(f"<{place}>", str(words))
    return text


def _layers(drawing: Drawing) -> list[str]:
    """Return the names of the layers that are not in the frame; a layer's small and capital letters are one."""
    first: dict[str, str] = {}
    for path in drawing.paths:
        first.setdefault(path.name.lower(), path.name)
    return [name for small, name in first.items() if small not in _KNOWN]


@cache
def _frame() -> str:
    """Return what stands round layers and lines."""
    return files("facade.exporters").joinpath("frame.dxf").read_text("utf-8")


def _lines(path: Path, origin: tuple[float, float], unit: Unit) -> Iterator[tuple[str, str, str]]:
    """Yield the runs of a path: the kind of each, its layer, and what is particular to it."""
    for run in (path.runs - origin) / unit.in_mm:
        if not np.isfinite(run).all():
            raise FacadeError("a drawing must hold finite places only")
        if path.round is not None:
            middle = np.round((run.min(axis=0) + run.max(axis=0)) / 2, _DECIMALS[unit])
            yield "CIRCLE", path.name, _CIRCLE % (*middle.tolist(), round(path.round / unit.in_mm, _DECIMALS[unit]))
            continue
        places = np.round(_without_doubles(run, _SAME / unit.in_mm, closed=path.closed), _DECIMALS[unit])
        if path.closed and _area(places) < 0.0:
            places = places[::-1]
        what = _POLYLINE % (len(places), path.closed) + _PLACE * len(places) % tuple(places.ravel().tolist())
        yield "LWPOLYLINE", path.name, what


def _without_doubles(run: Array, same: float, *, closed: bool) -> Array:
    """Return places without those that are where the one before is; of a closed run the last is before the first."""
    keep = np.r_[True, np.abs(np.diff(run, axis=0)).max(axis=1) > same]
    places = run[keep]
    while closed and len(places) > 1 and float(np.abs(places[0] - places[-1]).max()) <= same:
        places = places[:-1]
    return places


def _area(places: Array) -> float:
    """Return the area within a closed run, greater than 0 where it goes counter-clockwise (the trapezoid formula)."""
    x, y = places.T
    return float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2
