"""Jobs to drill the checks on: each with one fault planted, and others that are sound. All are small, so that many can be asked.

A fault is named by the check, and words of its topic or its sentence, that must find it.
"""

from __future__ import annotations

import copy
from dataclasses import dataclass, field
from typing import Any

from facade.checks import Weight

STOPS, LOOK, KNOW = Weight.STOPS, Weight.LOOK, Weight.KNOW

# Ten strips of 18 and nine gaps of 3, long soft waves: nothing of it is at fault.
_PLAIN: dict[str, Any] = {
    "title": "A drill",
    "front": {"width": 207, "height": 400},
    "strips": {"count": 10, "gap": 3},
    "wood": {"species": "white ash", "blank": 20, "floor": 9},
    "layers": [{"kind": "waves", "trains": [{"length": 260, "direction": 70}, {"length": 200, "direction": 115}]}],
}


def a_job(*, without_count: bool = False, **changes: Any) -> dict[str, Any]:
    """Return the settings of the plain job with changes: a table changes the one of that name, anything else replaces it."""
    settings = _changed(copy.deepcopy(_PLAIN), changes)
    if without_count:
        del settings["strips"]["count"]
    return settings


def _changed(settings: dict[str, Any], changes: dict[str, Any]) -> dict[str, Any]:
    for name, change in changes.items():
        settings[name] = settings.get(name, {}) | change if isinstance(change, dict) else change
    return settings


def a_pair(**changes: Any) -> dict[str, Any]:
    """Return the settings of a pair of inset doors that turn on pins at their faces, between the sides of their case, with changes."""
    pair = a_job(
        front={
            "width": 442,
            "height": 404,
            "doors": 2,
            "hidden_joint": True,
            "reveals": {"left": 2, "right": 2, "top": 2, "bottom": 2},
        },
        strips={"count": 20, "gap": 4.5},
        hinges={"pivot": "front", "opens": 100},
        beside={"left": {"stands": "case side", "forward": 8}, "right": {"stands": "case side", "forward": 8}},
    )
    return _changed(pair, changes)


def waves(length: float, direction: float = 90, **more: Any) -> list[dict[str, Any]]:
    """Return one train of waves as layers; along the strips where no direction is said."""
    return [{"kind": "waves", "trains": [{"length": length, "direction": direction}]} | more]


def plate(*places: tuple[float, float, float], level: float = 15) -> list[dict[str, Any]]:
    """Return a thin plate through given heights over the plain front, at a level all round."""
    around = [(x, y, level) for x in (0, 103, 207) for y in (0, 200, 400)]
    far = [one for one in around if all(abs(one[0] - x) + abs(one[1] - y) > 30 for x, y, _ in places)]
    return [{"kind": "points", "points": [{"place": [x, y], "height": z} for x, y, z in (*far, *places)]}]


def opening(widths: Any = 442, heights: Any = 404, mounting: str = "inset", **more: Any) -> dict[str, Any]:
    """Return an opening that measures the same everywhere, or as given."""
    return {
        "mounting": mounting,
        "widths": widths if isinstance(widths, list) else [widths] * 3,
        "heights": heights if isinstance(heights, list) else [heights] * 3,
    } | more


GIVEN = {"fit": "as given"}


@dataclass(frozen=True)
class Drill:
    """A job with one fault: which check must name it, how heavily, and words that topic or sentence must hold."""

    name: str
    check: str
    weight: Weight
    says: str
    settings: dict[str, Any] = field(repr=False)


FAULTY = [
    Drill("breaks in the hand", "thickness", STOPS, "in the hand", a_job(wood={"floor": 4})),
    Drill("thin for screws", "thickness", LOOK, "held by screws", a_job(wood={"floor": 6.5})),
    Drill("thin for glue", "thickness", LOOK, "glued", a_job(wood={"floor": 5.4}, fixing={"by": "glue"})),
    Drill(
        "thin for a bead",
        "thickness",
        LOOK,
        "along its middle",
        a_job(wood={"floor": 5.4}, fixing={"by": "middle bead"}),
    ),
    Drill(
        "deep in a thin blank",
        "thickness",
        STOPS,
        "in the hand",
        a_job(wood={"blank": 15, "floor": 3}, carving={"fit": "depth", "depth": 10}),
    ),
    Drill(
        "one thin place",
        "thickness",
        STOPS,
        "Strip 5",
        a_job(wood={"floor": 2}, carving=GIVEN, layers=plate((93, 300, 4.2))),
    ),
    Drill(
        "a thin land",
        "thickness",
        LOOK,
        "land 1",
        a_job(wood={"floor": 6}, fixing={"by": "glue"}, lands=[{"centre": [93, 200], "size": [30, 60], "height": 7}]),
    ),
    Drill(
        "a deep pull",
        "lands and pulls",
        STOPS,
        "leaves",
        a_job(
            wood={"floor": 2},
            carving=GIVEN,
            layers=plate(),
            pulls=[{"centre": [93, 200], "size": [80, 60], "depth": 12}],
        ),
    ),
    Drill(
        "a thin end",
        "thickness",
        LOOK,
        "end",
        a_job(wood={"floor": 5}, fixing={"by": "glue"}, carving=GIVEN, layers=plate((93, 6, 6.6))),
    ),
    Drill("below the floor", "cut off", LOOK, "below the floor", a_job(carving=GIVEN, layers=plate((93, 300, 6.5)))),
    Drill(
        "out of the blank", "cut off", LOOK, "above what the blank", a_job(carving=GIVEN, layers=plate((93, 300, 22)))
    ),
    Drill(
        "too tight for a ball",
        "cutter",
        STOPS,
        "left standing",
        a_job(cutter={"shape": "ball", "radius": 25}, layers=waves(34), carving={"fit": "depth", "depth": 6}),
    ),
    Drill(
        "a little too tight for a ball",
        "cutter",
        LOOK,
        "left standing",
        a_job(cutter={"shape": "ball", "radius": 25}, layers=waves(36), carving={"fit": "depth", "depth": 4}),
    ),
    Drill(
        "too tight for a disc",
        "cutter",
        STOPS,
        "left standing",
        a_job(layers=waves(60), carving={"fit": "depth", "depth": 9}),
    ),
    Drill(
        "tight for a disc",
        "cutter",
        LOOK,
        "tight hollow",
        a_job(layers=waves(90), carving={"fit": "depth", "depth": 8}),
    ),
    Drill(
        "tight for a tilted disc",
        "cutter",
        LOOK,
        "tilted",
        a_job(cutter={"tilt": 40}, layers=waves(112), carving={"fit": "depth", "depth": 9.5}),
    ),
    Drill(
        "across too tight for the rim",
        "cutter",
        STOPS,
        "left standing",
        a_job(layers=waves(14, 0), carving={"fit": "depth", "depth": 8}),
    ),
    Drill("too steep", "grain", STOPS, "degrees", a_job(cutter={"shape": "ball", "radius": 6}, layers=waves(40))),
    Drill(
        "steep",
        "grain",
        LOOK,
        "degrees",
        a_job(cutter={"shape": "ball", "radius": 6}, layers=waves(50), carving={"fit": "depth", "depth": 10}),
    ),
    Drill(
        "a land with a wall",
        "grain",
        STOPS,
        "degrees",
        a_job(
            cutter={"shape": "ball", "radius": 2},
            carving=GIVEN,
            layers=plate(),
            lands=[{"centre": [93, 200], "size": [40, 60], "height": 11, "blend": 4}],
        ),
    ),
    Drill(
        "a cap with a wall",
        "grain",
        STOPS,
        "degrees",
        a_job(
            cutter={"shape": "ball", "radius": 2},
            carving=GIVEN,
            layers=plate(level=18),
            caps=[{"edge": "bottom", "width": 30, "height": 10, "blend": 8}],
        ),
    ),
    Drill(
        "a fade with a wall",
        "grain",
        STOPS,
        "degrees",
        a_job(
            cutter={"shape": "ball", "radius": 2},
            carving=GIVEN,
            layers=plate(level=11),
            fades=[{"edge": "top", "width": 12, "height": 19}],
        ),
    ),
    Drill("short grain", "grain", LOOK, "short grain", a_job(cutter={"shape": "ball", "radius": 3}, layers=waves(22))),
    Drill(
        "thin and long",
        "handling",
        LOOK,
        "breaks",
        a_job(front={"height": 1500}, wood={"floor": 8}, layers=waves(700)),
    ),
    Drill(
        "whips",
        "handling",
        LOOK,
        "whips",
        a_job(front={"height": 1900}, wood={"blank": 16, "floor": 8.5}, layers=waves(700)),
    ),
    Drill("short stock", "handling", KNOW, "short", a_job(front={"height": 220})),
    Drill(
        "jams on its neighbour",
        "swing",
        STOPS,
        "hinge edge",
        a_pair(hinges={"pivot": "back", "sides": ["left", "left"]}),
    ),
    Drill(
        "jams on the case",
        "swing",
        STOPS,
        "hinge edge",
        a_pair(
            hinges={"pivot": "back", "inward": 60, "forward": -4},
            beside={"left": {"stands": "case side", "forward": 30}},
        ),
    ),
    Drill(
        "stopped by a wall",
        "swing",
        LOOK,
        "wall",
        a_pair(hinges={"pivot": "back", "inward": 22, "forward": -18}, beside={"left": {"stands": "wall"}}),
    ),
    Drill(
        "meeting edges bind",
        "swing",
        STOPS,
        "meeting edge",
        a_pair(
            front={"hidden_joint": False, "space": 2.2},
            hinges={"pivot": "front"},
            board={"thickness": 24},
            wood={"blank": 26, "floor": 14},
        ),
    ),
    Drill(
        "meeting edges all but bind", "swing", LOOK, "meeting edge", a_pair(front={"hidden_joint": False, "space": 3.6})
    ),
    Drill(
        "joined meeting edges bind",
        "swing",
        STOPS,
        "meeting edge",
        a_pair(strips={"count": 20, "gap": 3}, board={"thickness": 26}),
    ),
    Drill("a pin beside its door", "swing", LOOK, "pin", a_pair(hinges={"pivot": "back", "inward": 230})),
    Drill(
        "too heavy for hinges",
        "weight",
        STOPS,
        "table",
        a_pair(
            board={"density": 2000, "thickness": 100},
            hinges={
                "pivot": "back",
                "inward": 1,
                "forward": 19.2,
                "table": [{"mass": 12, "height": "2 m", "count": 3}],
            },
        ),
    ),
    Drill(
        "too high for hinges",
        "weight",
        STOPS,
        "table",
        a_pair(hinges={"pivot": "front", "table": [{"mass": 12, "height": 390, "count": 2}]}),
    ),
    Drill(
        "too few hinges", "weight", LOOK, "count", a_pair(board={"density": 1900, "thickness": 30}, hinges={"count": 1})
    ),
    Drill("hinges too close", "weight", LOOK, "between", a_pair(hinges={"between": 150})),
    Drill("glued tight", "movement", STOPS, "gaps close", a_job(strips={"count": 11, "gap": 0}, fixing={"by": "glue"})),
    Drill(
        "glued too near",
        "movement",
        STOPS,
        "gaps close",
        a_job(strips={"count": 10, "gap": 0.15}, fixing={"by": "glue"}, wood={"moisture": 6.5}),
    ),
    Drill(
        "bows",
        "movement",
        LOOK,
        "door bows",
        a_job(front={"width": 600}, strips={"count": 20, "gap": 3}, fixing={"by": "glue"}, board={"thickness": 22}),
    ),
    Drill("wet wood", "movement", LOOK, "not settled", a_job(wood={"moisture": 19})),
    Drill("dry wood", "movement", LOOK, "not settled", a_job(wood={"moisture": 3})),
    Drill("packed tight on screws", "movement", LOOK, "gaps close", a_job(strips={"count": 11, "gap": 0})),
    Drill(
        "narrow for its screws",
        "screws",
        STOPS,
        "too narrow",
        a_job(strips={"count": 20, "gap": 2}, fixing={"shank": 4.5}),
    ),
    Drill("very narrow", "screws", STOPS, "too narrow", a_job(strips={"count": 24, "gap": 2}, fixing={"shank": 3.5})),
    Drill("short for two screws", "screws", STOPS, "too short", a_job(front={"height": 90}, layers=waves(150))),
    Drill(
        "nowhere thick enough",
        "screws",
        STOPS,
        "no room",
        a_job(wood={"blank": 11, "floor": 6}, carving={"fit": "depth", "depth": 4}, limits={"thin_screwed": 6}),
    ),
    Drill("only long screws", "screws", STOPS, "long", a_job(fixing={"lengths": [45, 50, 60]})),
    Drill("only short screws", "screws", STOPS, "no room", a_job(fixing={"lengths": [12, 16, 20]})),
    Drill("near the sides", "screws", LOOK, "near the sides", a_job(fixing={"shank": 4})),
    Drill("shallow screws", "screws", KNOW, "shallow", a_job(wood={"blank": 13, "floor": 8.5}, layers=waves(300))),
    Drill(
        "screws far apart",
        "screws",
        LOOK,
        "far apart",
        a_job(
            front={"height": 1400},
            carving=GIVEN,
            layers=[
                {
                    "kind": "points",
                    "points": [
                        {"place": [x, y], "height": z}
                        for x in (0, 207)
                        for y, z in ((0, 17), (300, 9.2), (700, 8.4), (1100, 9.2), (1400, 17))
                    ],
                }
            ],
            wood={"floor": 8},
        ),
    ),
    Drill(
        "free ends",
        "screws",
        LOOK,
        "free end",
        a_job(
            front={"height": 1400},
            carving=GIVEN,
            layers=[
                {
                    "kind": "points",
                    "points": [
                        {"place": [x, y], "height": z}
                        for x in (0, 207)
                        for y, z in ((0, 8.3), (300, 9), (700, 17), (1100, 15), (1400, 15))
                    ],
                }
            ],
            wood={"floor": 8},
        ),
    ),
    Drill(
        "steps across gaps",
        "looks",
        LOOK,
        "steps between",
        a_job(layers=waves(60, 20), cutter={"shape": "ball", "radius": 5}),
    ),
    Drill(
        "steps across wide gaps",
        "looks",
        LOOK,
        "steps between",
        a_job(strips={"count": 9, "gap": 6}, layers=waves(130, 10)),
    ),
    Drill(
        "waves too short for the strips",
        "looks",
        LOOK,
        "stepped",
        a_job(strips={"count": 8, "gap": 3}, layers=waves(70, 5), cutter={"shape": "ball", "radius": 6}),
    ),
    Drill("loose work", "looks", LOOK, "off by about", a_job(errors={"saw": 0.7, "trace": 0.5})),
    Drill("work too loose for no gaps", "looks", LOOK, "off by about", a_job(strips={"count": 10, "gap": 0.3})),
    Drill(
        "as large as its opening",
        "opening",
        STOPS,
        "reveal",
        a_pair(front={"reveals": {"left": 0, "right": 0, "top": 0, "bottom": 0}}, opening=opening()),
    ),
    Drill(
        "no room above and below",
        "opening",
        STOPS,
        "reveal",
        a_pair(
            front={"height": 400, "reveals": {"left": 2, "right": 2, "top": 0, "bottom": 0}},
            opening=opening(442, [400, 400.5, 400]),
        ),
    ),
    Drill(
        "little room at the top",
        "opening",
        LOOK,
        "reveal",
        a_pair(front={"reveals": {"left": 2, "right": 2, "top": 0.8, "bottom": 2}}, opening=opening()),
    ),
    Drill("wider than its opening", "opening", STOPS, "width", a_pair(opening=opening(438, 404))),
    Drill("higher than its opening", "opening", STOPS, "height", a_pair(opening=opening(442, [404, 404, 401]))),
    Drill("racked", "opening", STOPS, "sides lean", a_pair(opening=opening(442, 404, diagonals=[602.5, 595.2]))),
    Drill(
        "a reading that is off",
        "opening",
        LOOK,
        "disagrees",
        a_pair(opening=opening([442, 442, 448], 404, diagonals=[598.8, 598.8])),
    ),
    Drill("leaning sides", "opening", LOOK, "", a_pair(opening=opening([446, 444, 442], 404, plumb=[-2, 2]))),
    Drill("a twisted opening", "opening", LOOK, "twist", a_pair(opening=opening(twist=3))),
    Drill("does not cover", "opening", STOPS, "cover", a_job(opening=opening(200, 390, "overlay", overlap=8))),
    Drill("widths differ", "opening", LOOK, "", a_pair(opening=opening([442, 442, 446], 404))),
    Drill("far too small", "opening", LOOK, "wider", a_pair(opening=opening(462, 404))),
    Drill("a bowed door", "empty door", STOPS, "no go", a_pair(bare_doors=[{"door": 1, "bow": 3}])),
    Drill("a twisted door", "empty door", STOPS, "no go", a_pair(bare_doors=[{"door": 2, "twist": 2.5}])),
    Drill(
        "a pull on no strip",
        "lands and pulls",
        LOOK,
        "no strip",
        a_job(
            front={"width": 217},
            strips={"count": 10, "gap": 3, "edge": 5},
            pulls=[{"centre": [2, 200], "size": [4, 30], "depth": 4}],
        ),
    ),
    Drill(
        "a shallow pull",
        "lands and pulls",
        LOOK,
        "deep",
        a_job(
            wood={"blank": 26, "floor": 8},
            carving={"fit": "depth", "depth": 6},
            pulls=[{"centre": [100, 200], "size": [90, 70], "depth": 7}],
        ),
    ),
    Drill(
        "a low pull",
        "lands and pulls",
        LOOK,
        "clear height",
        a_job(
            wood={"blank": 26, "floor": 8},
            carving={"fit": "depth", "depth": 4},
            pulls=[{"centre": [100, 200], "size": [120, 24], "depth": 12.5}],
        ),
    ),
    Drill(
        "a sharp pull",
        "lands and pulls",
        LOOK,
        "rim",
        a_job(
            wood={"blank": 26, "floor": 8},
            carving={"fit": "depth", "depth": 3},
            pulls=[{"centre": [100, 200], "size": [110, 60], "depth": 12.5, "edge": 1.2}],
        ),
    ),
    Drill(
        "a pull over a joint",
        "lands and pulls",
        LOOK,
        "joint",
        a_pair(
            wood={"blank": 26},
            carving={"fit": "depth", "depth": 4},
            pulls=[{"centre": [221, 200], "size": [80, 60], "depth": 12.5}],
        ),
    ),
    Drill(
        "a pull at the hinges",
        "lands and pulls",
        LOOK,
        "hinge",
        a_pair(
            wood={"blank": 26},
            carving={"fit": "depth", "depth": 4},
            pulls=[{"centre": [60, 200], "size": [80, 60], "depth": 12.5}],
        ),
    ),
    Drill(
        "a land in a land",
        "lands and pulls",
        LOOK,
        "Land 1",
        a_job(
            lands=[
                {"centre": [90, 200], "size": [40, 60], "height": 14},
                {"centre": [120, 220], "size": [40, 60], "height": 12},
            ]
        ),
    ),
    Drill(
        "a land under a cap",
        "lands and pulls",
        LOOK,
        "cap",
        a_job(
            lands=[{"centre": [90, 380], "size": [40, 40], "height": 18}],
            caps=[{"edge": "top", "width": 40, "height": 14}],
        ),
    ),
    Drill(
        "a land over two doors",
        "lands and pulls",
        LOOK,
        "doors",
        a_pair(lands=[{"centre": [221, 200], "size": [60, 80], "height": 14, "blend": 60}]),
    ),
    Drill(
        "wood for nothing",
        "blank",
        KNOW,
        "thinner would do",
        a_job(wood={"blank": 30, "floor": 9}, carving=GIVEN, layers=plate((93, 300, 18))),
    ),
    Drill(
        "a saw in the face",
        "blank",
        LOOK,
        "bulges",
        a_job(
            front={"width": 214},
            strips={"count": 5, "gap": 3},
            layers=waves(70, 3),
            cutter={"shape": "ball", "radius": 6},
        ),
    ),
    Drill("narrow strips", "layout", LOOK, "narrow", a_job(strips={"count": 26, "gap": 1}, fixing={"by": "glue"})),
    Drill("tight gaps", "layout", LOOK, "swell", a_job(strips={"count": 10, "gap": 0.3})),
    Drill(
        "a typed gap that comes out otherwise",
        "layout",
        LOOK,
        "gap",
        a_job(
            front={"width": 430, "doors": 2, "hidden_joint": True}, strips={"width": 18, "gap": 2.5}, without_count=True
        ),
    ),
    Drill("gaps wider than strips", "layout", LOOK, "wider than", a_job(strips={"count": 8, "gap": 16})),
    Drill("nothing to carve", "looks", LOOK, "flat", a_job(carving=GIVEN, layers=plate())),
    Drill(
        "waves finer than the grid",
        "grain",
        STOPS,
        "degrees",
        a_job(layers=waves(2), carving={"fit": "depth", "depth": 1}),
    ),
    Drill(
        "waves as fine as the grid", "sampling", LOOK, "", a_job(layers=waves(4), carving={"fit": "depth", "depth": 1})
    ),
    Drill(
        "a coarse grid",
        "sampling",
        STOPS,
        "",
        a_job(layers=waves(60), sampling={"step": 20}, cutter={"shape": "ball", "radius": 8}),
    ),
]


def inches(settings: dict[str, Any]) -> dict[str, Any]:
    """Return a job of mm as one in inches: every bare length says its mm, so that what is printed is in inches."""

    def said(value: Any, name: str) -> Any:
        if isinstance(value, dict):
            return {key: said(one, key) for key, one in value.items()}
        if isinstance(value, list):
            return [said(one, name) for one in value]
        plain = name in _NO_LENGTHS or isinstance(value, bool | str) or value is None
        return value if plain else f"{value} mm"

    return {name: said(one, name) for name, one in settings.items()} | {"unit": "in"}


_NO_LENGTHS = {
    "doors", "count", "direction", "opens", "door", "density", "moisture", "mass", "tilt", "stretch", "rings", "stiffness",
    "shape_height",
}  # fmt: skip
IN_INCHES = (
    "breaks in the hand",
    "thin for screws",
    "too tight for a ball",
    "tight for a disc",
    "steep",
    "thin and long",
    "meeting edges bind",
    "narrow for its screws",
    "only long screws",
    "shallow screws",
    "steps across wide gaps",
    "as large as its opening",
    "wider than its opening",
    "a shallow pull",
    "a typed gap that comes out otherwise",
)

SOUND: dict[str, dict[str, Any]] = {
    "the plain front": a_job(),
    "a pair of inset doors": a_pair(opening=opening()),
    "a pair without an opening": a_pair(),
    "glued, with a bead": a_job(fixing={"by": "middle bead"}, wood={"species": "black cherry", "rings": 90}),
    "quarter-sawn, glued, on a thick board": a_job(
        fixing={"by": "glue"}, wood={"rings": 90}, board={"thickness": 25, "balanced": True}
    ),
    "carved with a ball": a_job(
        cutter={"shape": "ball", "radius": 6}, layers=waves(110, 75), carving={"fit": "depth", "depth": 8}
    ),
    "a surface that follows its disc": a_job(
        cutter={"fit": True}, layers=waves(150, 80), carving={"fit": "depth", "depth": 8}
    ),
    "an overlay front": a_job(opening=opening(190, 380, "overlay", overlap=8)),
    "carved packed tight": a_job(carving={"packed": True}),
    "three doors on hinges at their backs": a_job(
        front={"width": 674, "height": 500, "doors": 3, "space": 10},
        strips={"count": 30, "gap": 3},
        hinges={"pivot": "back", "inward": 22, "forward": 2, "sides": ["left", "left", "left"]},
        layers=waves(300, 75),
        board={"density": 600},
    ),
    "a pull and a level place under it": a_job(
        wood={"blank": 26, "floor": 8},
        carving={"fit": "depth", "depth": 6},
        lands=[{"centre": [103, 200], "size": [120, 90], "height": 25, "blend": 60}],
        pulls=[{"centre": [103, 200], "size": [90, 62], "depth": 12.5, "edge": 4}],
    ),
    "walnut in its own climate": a_job(
        wood={"species": "black walnut", "moisture": 8},
        room={"driest": {"temperature": 20, "humidity": 35}, "dampest": {"temperature": 22, "humidity": 60}},
    ),
    "heights as given": a_job(carving=GIVEN, layers=plate((93, 300, 10.5), (150, 120, 18))),
    "in inches": inches(a_job(cutter={"shape": "disc", "radius": 50})),
}
"""Jobs of which nothing must be said that stops them, or that wants a look."""
