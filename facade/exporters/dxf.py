"""A drawing as DXF of 2010, to be cut: closed and open polylines and circles, a layer for each name, its unit in the header."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence

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
_ONE_PLACE = re.compile(r"AcDbPolyline\n 90\n1\n 70\n(\d+)\n 10\n0\.0\n 20\n0\.0\n")


def to_dxf(drawing: Drawing, unit: Unit, origin: tuple[float, float] = (0.0, 0.0)) -> str:
    """Return the drawing's lines as DXF R2010 in `unit`; `origin` is the place on the drawing, mm, that becomes 0, 0.

    Every path is an LWPOLYLINE on the layer of its name, or a CIRCLE where it is round; closed ones run counter-clockwise, no place
    is doubled. No splines, blocks or text. The same drawing gives the same bytes. Raises FacadeError for what is not finite.
    """
    document = _document(unit)
    space = document.modelspace()
    for name in dict.fromkeys(path.name for path in drawing.paths):
        if name not in document.layers:
            document.layers.add(name, color=7)
    runs: list[Array] = []
    for path in drawing.paths:
        for run in path.runs:
            runs += _add(space, path, (run - origin) / unit.in_mm, unit)
    text = io.StringIO()
    document.write(text)
    return _with_places(text.getvalue(), runs)


def _with_places(text: str, runs: Sequence[Array]) -> str:
    """Return a DXF's text with the places of its polylines, each of which holds one at 0, 0 so far.

    Its writer takes 30 times as long for every place. DXF reference, LWPOLYLINE: 90 how many places, 70 whether closed, 10 and 20 x and y.
    """
    parts = _ONE_PLACE.split(text)
    assert len(parts) == 2 * len(runs) + 1
    for index, run in enumerate(runs):
        places = (" 10\n%s\n 20\n%s\n" * len(run)) % tuple(run.ravel().tolist())
        parts[2 * index + 1] = f"AcDbPolyline\n 90\n{len(run)}\n 70\n{parts[2 * index + 1]}\n{places}"
    return "".join(parts)


def _document(unit: Unit):  # type: ignore[no-untyped-def]  # ezdxf is imported where it is used
    from ezdxf._options import options
    from ezdxf.filemanagement import new

    # No dates and no chance numbers: the same drawing gives the same bytes.
    options.write_fixed_meta_data_for_testing = True
    document = new("R2010", units=_INSUNITS[unit])
    document.header["$MEASUREMENT"] = _MEASUREMENT[unit]
    # Its writer would list these in the order of a set, which is another one in every run of Python.
    for name in sorted(document.entitydb.dxf_types_in_use()):
        document.classes.add_class(name)
    return document


def _add(space, path: Path, run: Array, unit: Unit) -> list[Array]:  # type: ignore[no-untyped-def]
    """Add a run, and return its places where it is a polyline: they are written later."""
    if not np.isfinite(run).all():
        raise FacadeError("a drawing must hold finite places only")
    layer = {"layer": path.name}
    if path.round is not None:
        middle = (run.min(axis=0) + run.max(axis=0)) / 2
        space.add_circle(np.round(middle, _DECIMALS[unit]), round(path.round / unit.in_mm, _DECIMALS[unit]), layer)
        return []
    places = np.round(_without_doubles(run, _SAME / unit.in_mm, closed=path.closed), _DECIMALS[unit])
    if path.closed and _area(places) < 0.0:
        places = places[::-1]
    space.add_lwpolyline([(0.0, 0.0)], close=path.closed, dxfattribs=layer)
    return [places]


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
