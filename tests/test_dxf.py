"""DXF, read back by ezdxf: its unit, closed and open polylines, true circles, and nothing that stops an import."""

from __future__ import annotations

import io
import os
import subprocess
import sys

import numpy as np
import pytest
from ezdxf.filemanagement import new, read

from facade.drawing import Drawing, Path, Pen
from facade.errors import FacadeError
from facade.exporters.dxf import to_dxf
from facade.lengths import Unit

SQUARE = [[0.0, 0.0], [0.0, 30.0], [20.0, 30.0], [20.0, 0.0]]


def drawing() -> Drawing:
    found = Drawing(100.0, 60.0, "A drawing")
    found.shape(SQUARE, Pen.CUT, "outline")
    found.line([[1.0, 2.0], [5.0, 2.0], [5.0, 2.0], [9.0, 7.0]], Pen.SAW, "saw line")
    found.circle(40.0, 20.0, 1.5, Pen.HOLE, "screw pilots")
    found.label("words", 10.0, 10.0, 5.0)
    return found


def reread(text: str):
    return read(io.StringIO(text))


@pytest.mark.parametrize(("unit", "code", "metric"), [(Unit.MM, 4, 1), (Unit.INCH, 1, 0)])
def test_the_unit_is_in_the_header(unit: Unit, code: int, metric: int) -> None:
    """DXF reference, $INSUNITS: 1 inch, 4 millimetre; $MEASUREMENT: 0 inches, 1 metric (from memory)."""
    found = reread(to_dxf(drawing(), unit))
    assert found.header["$INSUNITS"] == code
    assert found.header["$MEASUREMENT"] == metric


def test_it_is_dxf_of_2010() -> None:
    """DXF reference, $ACADVER: AC1024 is R2010."""
    assert reread(to_dxf(drawing(), Unit.MM)).dxfversion == "AC1024"


def test_there_are_only_polylines_and_circles_on_their_layers() -> None:
    space = reread(to_dxf(drawing(), Unit.MM)).modelspace()
    assert [(one.dxftype(), one.dxf.layer) for one in space] == [
        ("LWPOLYLINE", "outline"),
        ("LWPOLYLINE", "saw line"),
        ("CIRCLE", "screw pilots"),
    ]


def test_a_closed_run_is_closed_counter_clockwise_and_not_doubled() -> None:
    outline = reread(to_dxf(drawing(), Unit.MM)).modelspace().query("LWPOLYLINE")[0]
    x, y = np.array([point[:2] for point in outline]).T
    assert outline.closed
    assert len(x) == 4
    assert np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)) == pytest.approx(2 * 20 * 30)


def test_a_doubled_place_is_left_out() -> None:
    line = reread(to_dxf(drawing(), Unit.MM)).modelspace().query("LWPOLYLINE")[1]
    assert [tuple(point[:2]) for point in line] == [(1.0, 2.0), (5.0, 2.0), (9.0, 7.0)]
    assert not line.closed


def test_a_hole_is_a_true_circle() -> None:
    hole = reread(to_dxf(drawing(), Unit.MM)).modelspace().query("CIRCLE")[0]
    assert (hole.dxf.center.x, hole.dxf.center.y, hole.dxf.radius) == (40.0, 20.0, 1.5)


def test_an_inch_is_25_4_mm() -> None:
    hole = reread(to_dxf(drawing(), Unit.INCH)).modelspace().query("CIRCLE")[0]
    assert hole.dxf.center.x * 25.4 == pytest.approx(40.0, abs=1e-4)
    assert hole.dxf.radius * 25.4 == pytest.approx(1.5, abs=1e-4)


def test_the_zero_is_where_it_was_asked_for() -> None:
    moved = reread(to_dxf(drawing(), Unit.MM, (10.0, 5.0))).modelspace().query("LWPOLYLINE")[0]
    assert min(point[0] for point in moved) == -10.0
    assert min(point[1] for point in moved) == -5.0


def test_the_same_drawing_gives_the_same_bytes() -> None:
    assert to_dxf(drawing(), Unit.MM) == to_dxf(drawing(), Unit.MM)


def test_the_library_finds_nothing_wrong() -> None:
    assert not reread(to_dxf(drawing(), Unit.MM)).audit().has_errors


def test_what_is_not_finite_is_refused() -> None:
    found = drawing()
    found.paths.append(Path(np.array([[[0.0, np.nan], [1.0, 1.0]]]), Pen.CUT, "outline"))
    with pytest.raises(FacadeError, match="finite"):
        to_dxf(found, Unit.MM)


def test_every_run_of_python_writes_the_same_bytes() -> None:
    """Sets of texts have another order in every run, unless PYTHONHASHSEED fixes it."""
    code = (
        "import hashlib; from facade.drawing import Drawing, Pen; from facade.exporters.dxf import to_dxf; from facade.lengths import Unit\n"
        "one = Drawing(10, 10, ''); one.line([[0, 0], [5, 5]], Pen.CUT, 'cut'); one.circle(3, 3, 1, Pen.HOLE, 'hole')\n"
        "print(hashlib.sha256(to_dxf(one, Unit.MM).encode()).hexdigest())"
    )
    found = {
        subprocess.run(
            [sys.executable, "-c", code],
            env=os.environ | {"PYTHONHASHSEED": str(seed)},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in range(1, 6)
    }
    assert len(found) == 1


def test_places_are_written_as_its_own_writer_would() -> None:
    """A polyline of ezdxf's own beside ours: the same text from its first place to its last."""
    places = [(1.0, 2.5), (-3.25, 0.00001), (1234.56789, -0.5)]
    one = Drawing(10.0, 10.0, "")
    one.line(places, Pen.CUT, "cut")
    ours = to_dxf(one, Unit.MM)
    document = new("R2010", units=4)
    document.modelspace().add_lwpolyline(places, dxfattribs={"layer": "cut"})
    stream = io.StringIO()
    document.write(stream)
    theirs = stream.getvalue()
    part = theirs[theirs.index("AcDbPolyline") :]
    assert part[: part.index("  0\n")] in ours


def test_all_that_stands_round_the_lines_is_as_the_library_writes_it() -> None:
    """An empty drawing of ezdxf's own beside one of ours: the same header, tables, blocks and objects."""
    document, stream = new("R2010", units=4), io.StringIO()
    document.write(stream)
    theirs, ours = reread(stream.getvalue()), reread(to_dxf(Drawing(10.0, 10.0, ""), Unit.MM))
    chance = (
        "DATE",
        "TDUCREATE",
        "TDCREATE",
        "TDUUPDATE",
        "TDUPDATE",
        "TDINDWG",
        "TDUSRTIMER",
        "GUID",
        "HANDSEED",
        "LASTSAVEDBY",
    )
    for name in theirs.header.varnames():
        if not name.endswith(chance):
            assert ours.header[name] == theirs.header[name], name
    for table in ("layers", "linetypes", "styles", "dimstyles", "appids", "block_records", "views", "ucs"):
        names = [sorted(one.dxf.name for one in getattr(found, table)) for found in (ours, theirs)]
        assert names[0] == names[1], table
    kinds = [sorted(one.dxftype() for one in found.entitydb.values()) for found in (ours, theirs)]
    assert kinds[0] == kinds[1]


def test_no_handle_is_given_twice_and_the_next_is_free() -> None:
    """DXF reference, $HANDSEED: the next available handle (from memory)."""
    found = drawing()
    found.line([[0.0, 0.0], [5.0, 5.0]], Pen.CUT, "Outline")
    found.line([[0.0, 0.0], [5.0, 5.0]], Pen.CUT, "Defpoints")
    rows = to_dxf(found, Unit.MM).split("\n")
    tags = list(zip((row.strip() for row in rows[::2]), rows[1::2], strict=False))
    # Of a DIMSTYLE it is 105.
    handles = [int(value, 16) for code, value in tags if code in ("5", "105")]
    seed = int(tags[tags.index(("9", "$HANDSEED")) + 1][1], 16)
    handles.remove(seed)
    assert len(handles) == len(set(handles))
    assert max(handles) == seed - 1


def test_small_and_capital_letters_are_one_layer() -> None:
    """Names of layers are compared without regard to case (DXF reference, symbol tables; from memory)."""
    found = drawing()
    found.line([[0.0, 0.0], [5.0, 5.0]], Pen.CUT, "Outline")
    found.line([[0.0, 0.0], [5.0, 5.0]], Pen.CUT, "DEFPOINTS")
    document = reread(to_dxf(found, Unit.MM))
    assert sorted(one.dxf.name for one in document.layers) == ["0", "Defpoints", "outline", "saw line", "screw pilots"]
    assert not document.audit().has_errors
