"""Corruptions of drawings for machines: DXF, edited pair by pair as it stands in the file, and SVG."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace

from corruptions.corruption import (
    Act,
    Corruption,
    Nothing,
    copy_of,
    exchanged,
    matched,
    replaced,
    swapped_with,
    text,
    together,
)

Pair = tuple[str, str]
Entity = list[Pair]
Points = list[tuple[float, float]]

PLAN = "cnc-face/*fixture-01*_plan_mm.dxf"
PROFILE = "cnc-side/*strip-03_*.dxf"
TOGETHER = "cnc-side/*together-01_*.dxf"
_MATES = {
    PLAN: "cnc-face/*fixture-02*_plan_mm.dxf",
    PROFILE: "cnc-side/*strip-06_*.dxf",
    TOGETHER: "cnc-side/*together-02_*.dxf",
}


# A DXF file as pairs of a code and a value, and the entities of its drawing.


def pairs(change: Callable[[list[Pair]], list[Pair]]) -> Act:
    """Return what changes the pairs of a DXF file."""

    def edit(said: str) -> str:
        end = "\r\n" if "\r\n" in said else "\n"
        rows = said.split(end)
        found = changed_pairs(list(zip(rows[0::2], rows[1::2], strict=False)))
        return end.join(row for pair in found for row in pair) + end

    def changed_pairs(found: list[Pair]) -> list[Pair]:
        return change(found)

    return text(edit)


def _section(found: list[Pair]) -> tuple[int, int]:
    """Return where the entities of the drawing begin and end among the pairs."""
    first = next(index for index, pair in enumerate(found) if _is(pair, 2, "ENTITIES")) + 1
    last = next(index for index in range(first, len(found)) if _is(found[index], 0, "ENDSEC"))
    return first, last


def _is(pair: Pair, code: int, value: str) -> bool:
    return pair[0].strip() == str(code) and pair[1] == value


def entities(change: Callable[[list[Entity]], list[Entity]]) -> Act:
    """Return what changes the list of a drawing's entities."""

    def edit(found: list[Pair]) -> list[Pair]:
        first, last = _section(found)
        some: list[Entity] = []
        for pair in found[first:last]:
            if pair[0].strip() == "0":
                some.append([])
            some[-1].append(pair)
        return [*found[:first], *(pair for entity in change(some) for pair in entity), *found[last:]]

    return pairs(edit)


def layer_of(entity: Entity) -> str:
    return next(value for code, value in entity if code.strip() == "8")


def on_layer(layer: str, change: Callable[[Entity], list[Entity]], which: int | None = 0) -> Act:
    """Return what changes the entity of that index on a layer, or all of them; none of it leaves it out."""

    def edit(some: list[Entity]) -> list[Entity]:
        there = [index for index, entity in enumerate(some) if layer_of(entity) == layer]
        if not there:
            raise Nothing(f"nothing on the layer {layer}")
        wanted = set(there if which is None else [there[which]])
        return [new for index, entity in enumerate(some) for new in (change(entity) if index in wanted else [entity])]

    return entities(edit)


def moved(entity: Entity, change: Callable[[Points], Points]) -> Entity:
    """Return an entity with other points: those of a polyline, or the middle of a circle."""
    xs = [index for index, (code, _) in enumerate(entity) if code.strip() == "10"]
    ys = [index for index, (code, _) in enumerate(entity) if code.strip() == "20"]
    points = change([(float(entity[x][1]), float(entity[y][1])) for x, y in zip(xs, ys, strict=True)])
    new = list(entity)
    for x, y, (across, along) in zip(xs, ys, points, strict=True):
        new[x], new[y] = (entity[x][0], repr(across)), (entity[y][0], repr(along))
    return new


def points(change: Callable[[Points], Points]) -> Callable[[Entity], list[Entity]]:
    return lambda entity: [moved(entity, change)]


def shift(x: float, y: float) -> Callable[[Entity], list[Entity]]:
    return points(lambda some: [(a + x, b + y) for a, b in some])


def one_point(x: float, y: float) -> Callable[[Entity], list[Entity]]:
    """Return what shifts the point in the middle of a line."""

    def change(some: Points) -> Points:
        middle = len(some) // 2
        return [(a + x, b + y) if index == middle else (a, b) for index, (a, b) in enumerate(some)]

    return points(change)


def gone(_: Entity) -> list[Entity]:
    return []


def with_code(code: int, value: str) -> Callable[[Entity], list[Entity]]:
    """Return what gives an entity another value of a code."""

    def change(entity: Entity) -> list[Entity]:
        if not any(one.strip() == str(code) for one, _ in entity):
            raise Nothing(f"no code {code}")
        return [[(one, value) if one.strip() == str(code) else (one, old) for one, old in entity]]

    return change


def doubled(x: float) -> Callable[[Entity], list[Entity]]:
    """Return what draws an entity a second time, beside itself, with a handle of its own."""

    def change(entity: Entity) -> list[Entity]:
        again = moved(entity, lambda some: [(a + x, b) for a, b in some])
        return [entity, [("  5", "FFFF0") if code.strip() == "5" else (code, value) for code, value in again]]

    return change


def everywhere(change: Callable[[Points], Points]) -> Act:
    return entities(lambda some: [moved(entity, change) for entity in some])


def with_radius(factor: float) -> Callable[[Entity], list[Entity]]:
    return lambda entity: [[(c, repr(float(v) * factor)) if c.strip() == "40" else (c, v) for c, v in entity]]


def header(variable: str, value: str) -> Act:
    """Return what sets a variable of the header to another value."""

    def edit(found: list[Pair]) -> list[Pair]:
        at = next((index for index, pair in enumerate(found) if _is(pair, 9, variable)), None)
        if at is None:
            raise Nothing(f"no {variable}")
        return [*found[: at + 1], (found[at + 1][0], value), *found[at + 2 :]]

    return pairs(edit)


def layer_renamed(old: str, new: str) -> Act:
    """Return what gives a layer another name wherever it is named."""

    def edit(found: list[Pair]) -> list[Pair]:
        if ("  2", old) not in [(f"{code.strip():>3}", value) for code, value in found]:
            raise Nothing(f"no layer {old}")
        return [(code, new if value == old and code.strip() in ("2", "8") else value) for code, value in found]

    return pairs(edit)


def layers_exchanged(one: str, other: str) -> Act:
    return entities(
        lambda some: [
            with_code(8, {one: other, other: one}[layer_of(entity)])(entity)[0]
            if layer_of(entity) in (one, other)
            else entity
            for entity in some
        ]
    )


def exchanged_shapes(layer: str, first: int, second: int) -> Act:
    """Return what draws two shapes of a layer each at the other's place: two strips, two numbers, two screws."""

    def edit(some: list[Entity]) -> list[Entity]:
        there = [entity for entity in some if layer_of(entity) == layer]
        one, other = there[first], there[second]

        def lowest(entity: Entity) -> tuple[float, float]:
            xs = [float(value) for code, value in entity if code.strip() == "10"]
            ys = [float(value) for code, value in entity if code.strip() == "20"]
            return min(xs), min(ys)

        (ax, ay), (bx, by) = lowest(one), lowest(other)
        new = {id(one): shift(bx - ax, by - ay)(one)[0], id(other): shift(ax - bx, ay - by)(other)[0]}
        return [new.get(id(entity), entity) for entity in some]

    return entities(edit)


def _any_drawing(on: str, kind: str) -> Iterator[Corruption]:
    """Yield what is done to a drawing whatever it shows; its main shape is a strip's outline, or the run along its face."""
    shape = "outline" if on == PLAN else "face cut"
    for what, act in (
        ("unit: inches in the header", header("$INSUNITS", "1")),
        ("unit: none in the header", header("$INSUNITS", "0")),
        ("everything 0.1 mm to the right", everywhere(lambda some: [(x + 0.1, y) for x, y in some])),
        ("everything 1 % larger", everywhere(lambda some: [(x * 1.01, y * 1.01) for x, y in some])),
        ("everything in inches", everywhere(lambda some: [(x / 25.4, y / 25.4) for x, y in some])),
        ("mirrored left to right", everywhere(lambda some: [(130.0 - x, y) for x, y in some])),
        ("mirrored top to bottom", everywhere(lambda some: [(x, 130.0 - y) for x, y in some])),
        ("the proof square 1 % larger", on_layer("proof square", points(lambda s: [(x * 1.01, y) for x, y in s]))),
        ("the proof square missing", on_layer("proof square", gone)),
        (f"the {shape} 0.1 mm aside", on_layer(shape, shift(0.1, 0.0))),
        (f"the layer {shape} renamed", layer_renamed(shape, "OUT")),
        (f"the {shape} missing", on_layer(shape, gone)),
        (f"the {shape} drawn again 5 mm beside", on_layer(shape, doubled(5.0))),
        (f"one point of the {shape} 0.1 mm off", on_layer(shape, one_point(0.0, 0.1))),
        (f"the {shape} left open, or closed", on_layer(shape, with_code(70, "0" if on == PLAN else "1"))),
        ("a pilot hole 0.1 mm aside", on_layer("screw pilots", shift(0.1, 0.0))),
        ("a pilot hole 1 mm along", on_layer("screw pilots", shift(0.0, 1.0), which=1)),
        ("a pilot hole missing", on_layer("screw pilots", gone)),
        ("a pilot hole too many", on_layer("screw pilots", doubled(12.0))),
        ("the number 5 mm aside", on_layer("number", shift(5.0, 0.0))),
        ("the number missing", on_layer("number", gone)),
        ("the line of what is kept clear 5 mm aside", on_layer("keep-out", shift(5.0, 0.0))),
        ("the line of what is kept clear missing", on_layer("keep-out", gone)),
        ("the zero 5 mm aside", on_layer("zero", shift(5.0, 0.0), which=None)),
        ("the zero missing", on_layer("zero", gone, which=None)),
        ("another drawing under its name", copy_of(_MATES[on])),
    ):
        yield Corruption(kind, on, what, act)


def _plan() -> Iterator[Corruption]:
    """Yield what is done to the plan of a fixture."""
    for what, act in (
        ("all pilot holes 1 mm aside", on_layer("screw pilots", shift(1.0, 0.0), which=None)),
        ("pilot holes of another size", on_layer("screw pilots", with_radius(1.5), which=None)),
        ("a clearance hole 0.5 mm aside", on_layer("screw clearance", shift(0.5, 0.0))),
        ("clearance holes of another size", on_layer("screw clearance", with_radius(0.5), which=None)),
        ("a strip 0.1 mm aside", on_layer("outline", shift(0.1, 0.0), which=1)),
        ("two strips' numbers exchanged", exchanged_shapes("number", 1, 2)),
        ("a spacer 0.5 mm aside", on_layer("spacers", shift(0.5, 0.0))),
        ("a spacer missing", on_layer("spacers", gone)),
        ("the waste 2 mm short", on_layer("waste", shift(0.0, 2.0))),
        ("a batten 2 mm aside", on_layer("battens", shift(2.0, 0.0))),
        ("a batten missing", on_layer("battens", gone)),
        ("a wedge 20 mm along", on_layer("wedges", shift(0.0, 20.0))),
        ("a clamp on the strips", on_layer("clamps", shift(60.0, 0.0))),
        ("a clamp 5 mm aside", on_layer("clamps", shift(-5.0, 0.0))),
        ("a clamp missing", on_layer("clamps", gone)),
        ("the spoilboard 5 mm aside", on_layer("spoilboard", shift(5.0, 0.0))),
        ("pilot and clearance holes exchanged", layers_exchanged("screw pilots", "screw clearance")),
        ("layers of clamps and wedges exchanged", layers_exchanged("clamps", "wedges")),
    ):
        yield Corruption("plan, DXF", PLAN, what, act)


def _profile() -> Iterator[Corruption]:
    """Yield what is done to a profile of a strip on its side."""
    for what, act in (
        ("left and right line exchanged", layers_exchanged("left line", "right line")),
        ("face cut and saw line exchanged", layers_exchanged("face cut", "saw line")),
        ("face cut and its middle exchanged", layers_exchanged("face cut", "face cut middle")),
        ("the way of the middle 0.5 mm nearer", on_layer("face cut middle", shift(0.0, -0.5))),
        ("the way of the middle missing", on_layer("face cut middle", gone)),
        ("the face cut run the other way", on_layer("face cut", points(lambda some: some[::-1]))),
        (
            "the face cut 10 mm short at its end",
            on_layer("face cut", points(lambda s: [*s[:-1], (s[-1][0] - 10, s[-1][1])])),
        ),
        ("the outline called a cut", layer_renamed("outline - not a cut", "outline")),
        ("the outline 0.1 mm higher", on_layer("outline - not a cut", shift(0.0, 0.1))),
        ("the outline missing", on_layer("outline - not a cut", gone)),
        ("the left line 0.1 mm higher", on_layer("left line", shift(0.0, 0.1))),
        ("one point of the right line 0.1 mm off", on_layer("right line", one_point(0.0, 0.1))),
        ("the left line missing", on_layer("left line", gone)),
        ("the saw line 0.5 mm lower", on_layer("saw line", shift(0.0, -0.5))),
        ("the saw line missing", on_layer("saw line", gone)),
        ("the blank 1 mm higher", on_layer("blank", shift(0.0, 1.0))),
        ("the blank missing", on_layer("blank", gone)),
        ("a pilot hole 1 mm deeper", on_layer("screw pilots", one_point(0.0, 1.0))),
        ("the number of another strip", on_layer("number", points(lambda s: [(y, x) for x, y in s]))),
        ("a stop 2 mm forward", on_layer("stops", shift(0.0, 2.0))),
        ("a stop in the way of the cutter", on_layer("stops", shift(0.0, 15.0))),
        ("a stop missing", on_layer("stops", gone)),
        ("the board 20 mm smaller", on_layer("board", points(lambda s: [(min(x, 150.0), y) for x, y in s]))),
        ("a holding screw 3 mm aside", on_layer("holding screws", shift(3.0, 0.0))),
        ("a holding screw missing", on_layer("holding screws", gone)),
        ("holding screws of another size", on_layer("holding screws", with_radius(1.5), which=None)),
        ("the head of a screw missing", on_layer("screw heads", gone)),
        ("where an end is sawn 1 mm aside", on_layer("saw to length", shift(1.0, 0.0))),
        ("where an end is sawn missing", on_layer("saw to length", gone)),
    ):
        yield Corruption("profile, DXF", PROFILE, what, act)


def _together() -> Iterator[Corruption]:
    """Yield what is done to profiles that are cut together."""
    for what, act in (
        ("two strips' face cuts exchanged", exchanged_shapes("face cut", 0, 1)),
        ("two left lines exchanged", exchanged_shapes("left line", 1, 2)),
        ("two numbers exchanged", exchanged_shapes("number", 2, 3)),
        ("the last strip's face cut missing", on_layer("face cut", gone, which=-1)),
        ("a stop 2 mm forward", on_layer("stops", shift(0.0, 2.0))),
        ("a stop missing", on_layer("stops", gone)),
        ("the blank of the second strip 1 mm higher", on_layer("blank", shift(0.0, 1.0), which=1)),
        ("the saw line of the third strip 0.5 mm lower", on_layer("saw line", shift(0.0, -0.5), which=2)),
        ("a step cut 1 mm lower", on_layer("step cut", shift(0.0, -1.0))),
        ("a step cut missing", on_layer("step cut", gone)),
        ("the middle of a step cut 0.5 mm lower", on_layer("step cut middle", shift(0.0, -0.5), which=1)),
        ("a holding screw of the third strip missing", on_layer("holding screws", gone, which=4)),
        ("two bays' keep-outs 5 mm aside", on_layer("keep-out", shift(0.0, 5.0), which=1)),
    ):
        yield Corruption("profiles together, DXF", TOGETHER, what, act)


# SVG


def path(name: str, change: Callable[[Points], Points]) -> Act:
    """Return what changes the points of a path of an SVG, by its name."""

    def new(match: re.Match[str]) -> str:
        numbers = [float(value) for value in re.findall(r"-?[\d.]+", match[2])]
        points_of = iter(change(list(zip(numbers[0::2], numbers[1::2], strict=True))))

        def write(_: re.Match[str]) -> str:
            x, y = next(points_of)
            return f"{x:.3f} {y:.3f}"

        return match[1] + re.sub(r"-?[\d.]+ -?[\d.]+", write, match[2]) + match[3]

    return matched(rf'(<path d=")([^"]*)(" id="{re.escape(name)}")', new)


def aside(x: float, y: float) -> Callable[[Points], Points]:
    return lambda some: [(a + x, b + y) for a, b in some]


def middle(x: float, y: float) -> Callable[[Points], Points]:
    """Return what shifts the point in the middle of a path."""

    def change(some: Points) -> Points:
        at = len(some) // 2
        return [(a + x, b + y) if index == at else (a, b) for index, (a, b) in enumerate(some)]

    return change


def turned(some: Points) -> Points:
    """Mirror a path about its own middle."""
    xs = [x for x, _ in some]
    return [(min(xs) + max(xs) - x, y) for x, y in some]


def left_out(name: str) -> Act:
    """Return what leaves a path out."""
    return matched(rf'<path d="[^"]*" id="{re.escape(name)}" />', "")


def resized(factor: float) -> Act:
    """Return what prints an SVG at another size: its width and height without its inside."""

    def change(said: str) -> str:
        return re.sub(
            r'(<svg [^>]*?height=")([\d.]+)(mm"[^>]*?width=")([\d.]+)(mm")',
            lambda m: f"{m[1]}{float(m[2]) * factor:.3f}{m[3]}{float(m[4]) * factor:.3f}{m[5]}",
            said,
        )

    return text(change)


def mirrored(said: str) -> str:
    """Mirror all that an SVG shows left to right."""
    before, _, rest = said.partition("<title>")
    width = before.split('viewBox="0 0 ')[1].split()[0]
    return f'{before}<g transform="translate({width} 0) scale(-1 1)"><title>{rest.replace("</svg>", "</g></svg>")}'


def _as_svg(on: str) -> str:
    return on.replace(".dxf", ".svg")


def _svg() -> Iterator[Corruption]:
    """Yield what is done to the same drawings as SVG."""
    for on, kind in ((PLAN, "plan, SVG"), (PROFILE, "profile, SVG")):
        base = Corruption(kind, _as_svg(on), "", replaced("", ""))
        shape = "outline" if on == PLAN else "face-cut"
        for what, act in (
            (f"the {shape} 0.1 mm aside", path(shape, aside(0.1, 0.0))),
            (f"one point of the {shape} 0.1 mm off", path(shape, middle(0.0, 0.1))),
            ("a pilot hole 1 mm aside", path("screw-pilots", aside(1.0, 0.0))),
            ("a pilot hole missing", left_out("screw-pilots")),
            ("printed 1 % smaller", resized(0.99)),
            ("mirrored left to right", text(mirrored)),
            ("another mark", matched(r"mark \w{4}-\w{4}", "mark 7Q2M-X4KD")),
            ("another title", replaced("Small hall cabinet", "Large hall cabinet", 0)),
            ("the unit written as inches", matched(r'width="([\d.]+)mm"', r'width="\1in"')),
            ("another drawing under its name", copy_of(_as_svg(_MATES[on]))),
        ):
            yield replace(base, what=what, act=act)
    yield Corruption(
        "profile, SVG",
        _as_svg(PROFILE),
        "left and right line exchanged",
        together(exchanged('id="left-line"', 'id="right-line"')),
    )
    yield Corruption(
        "profiles together, SVG", _as_svg(TOGETHER), "two files exchanged", swapped_with(_as_svg(_MATES[TOGETHER]))
    )


CORRUPTIONS: tuple[Corruption, ...] = (
    *_any_drawing(PLAN, "plan, DXF"),
    *_plan(),
    *_any_drawing(PROFILE, "profile, DXF"),
    *_profile(),
    *_any_drawing(TOGETHER, "profiles together, DXF"),
    *_together(),
    *_svg(),
)
