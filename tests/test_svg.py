"""SVG files hold what svgwrite, which is not ours, would write for the same lines and words; and what is written is read back."""

from __future__ import annotations

import io

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as some
from lxml import etree
from readers import svg_paths

from facade.drawing import Anchor, Drawing, Pen
from facade.exporters.runs import Words, runs_as
from facade.exporters.svg import FILLED, to_svg, to_template


def everything() -> Drawing:
    """A drawing with every pen, every anchor, turned, bold, empty and odd words, odd names, and places outside of the page."""
    drawing = Drawing(297.00049, 210.5, 'A & B <"sheet">')
    for index, pen in enumerate(Pen):
        drawing.line([[index, 1], [index + 0.12345, 60.0004], [3, 7]], pen, "line")
        drawing.lines([[[index, 2], [index, 5]], [[index + 1, 2], [index + 1, -5.25]]], pen)
        drawing.shape([[5, 5], [9, 5], [7, -1e-9]], pen, 'a "shape" & <more>')
    drawing.circle(300, 220, 4, Pen.HOLE, "hole")
    drawing.line([[-12.0007, 6000], [12, 7]], Pen.CUT, "far")
    for anchor in Anchor:
        drawing.label("21.5 → Größe & <b>", 20, 30.0004, 3.2, anchor)
        drawing.label("upright", 20, 30, 2.6, anchor, bold=True, turn=90)
    drawing.label("", 1, 2, 3)
    return drawing


def by_svgwrite(drawing: Drawing) -> str:
    """The same as svgwrite writes it with elements of its own, each with its style."""
    import svgwrite

    document = svgwrite.Drawing(debug=False)
    for path in drawing.paths:
        grey = "#" + f"{round(path.pen.grey * 255):02x}" * 3
        style = {"fill": grey, "stroke": "none"} if path.pen in FILLED else {"fill": "none", "stroke": grey}
        if path.pen not in FILLED:
            style |= {"stroke_width": path.pen.width, "stroke_linejoin": "round"}
        if path.pen.dashes:
            style["stroke_dasharray"] = ",".join(f"{dash:g}" for dash in path.pen.dashes)
        element = svgwrite.path.Path(debug=False, **style)
        for run in path.runs:
            places = [(round(x, 3), round(drawing.height - y, 3)) for x, y in run.tolist()]
            element.push("M", *places[:1], "L", *places[1:], *(["Z"] if path.closed else []))
        document.add(element)
    return document.tostring()


@pytest.mark.parametrize("make", [to_svg, to_template])
def test_lines_are_those_that_svgwrite_would_write(make) -> None:
    from svgelements import SVG, Path

    def read(text: str) -> list[tuple]:
        paths = [one for one in SVG.parse(io.StringIO(text), ppi=25.4).elements() if isinstance(one, Path)]
        return [(path, path.stroke_width, path.stroke.value, path.fill.value) for path in paths]

    drawing = everything()
    # The size is left out, for svgelements would scale by it.
    own = read(make(drawing).replace(f' viewBox="0 0 297 {drawing.height}"', ""))
    other = read(by_svgwrite(drawing))
    assert len(own) == len(other) == len(drawing.paths)
    for (path, *style), (wanted, *wanted_style) in zip(own, other, strict=True):
        assert style == pytest.approx(wanted_style)
        assert np.allclose([(p.x, p.y) for p in path.as_points()], [(p.x, p.y) for p in wanted.as_points()], atol=1e-9)
        assert path.values.get("stroke-dasharray", "").replace(" ", ",") == wanted.values.get("stroke-dasharray", "")


def test_both_ways_write_the_same_bytes() -> None:
    drawing = everything()
    assert to_svg(drawing) == to_template(drawing)
    for empty in (Drawing(10, 20, ""), Drawing(10, 20, "words & none")):
        assert to_svg(empty) == to_template(empty)


def test_words_and_names_are_read_back_as_they_were() -> None:
    drawing = everything()
    root = etree.fromstring(to_svg(drawing).encode())
    words = [one.text or "" for one in root.iter("{*}text")]
    assert words == [label.text for label in drawing.labels]
    assert root.findtext("{*}title") == drawing.title
    names = [one.get("id") for one in root.iter("{*}path") if one.get("id")]
    assert len(set(names)) == len(names)
    assert {name.rpartition("-")[0] or name for name in names} == {"line", 'a "shape" & <more>', "hole", "far"}


def test_a_drawing_is_read_back_true_to_size() -> None:
    drawing = Drawing(100, 50, "size")
    drawing.line([[10, 10], [90, 10], [90, 40.125]], Pen.CARVE, "carve")
    assert svg_paths(to_svg(drawing))["carve"] == pytest.approx(
        np.array([[10, 40], [10, 40], [90, 40], [90, 40], [90, 9.875]]), abs=1e-4
    )


_mm = some.floats(-9000, 9000, allow_nan=False)
_path = some.tuples(some.integers(1, 3), some.integers(1, 4), some.booleans(), some.randoms())


@given(some.lists(_path, max_size=5), _mm)
def test_runs_are_written_as_python_writes_each_number(shapes: list, height: float) -> None:
    drawing, wanted = Drawing(1, 1, ""), []
    for runs, points, closed, chance in shapes:
        places = np.array([[[chance.uniform(-9, 6000) for _ in "xy"] for _ in range(points)] for _ in range(runs)])
        drawing._add(places.copy(), Pen.CUT, "", closed=closed)
        places[..., 1] = height - places[..., 1]
        # Adding nothing makes a zero of a zero below nothing.
        rounded = (np.rint(places * 1000) / 1000 + 0.0).tolist()
        texts = [[f"{x:.3f} {y:.3f}" for x, y in run] for run in rounded]
        ends = [(" first ", " other ")[index > 0] for index in range(points - 1)] + [" closed" if closed else " last"]
        wanted.append("".join("M" + "".join(map("".join, zip(run, ends, strict=True))) for run in texts))
    assert runs_as(Words("M", " first ", " other ", " last", " closed"), drawing.paths, height) == wanted
