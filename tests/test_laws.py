"""The laws that hold for every job, over random whole jobs."""

import itertools

import numpy as np
import pytest
from helpers import PLAIN_KINDS, layer_of
from hypothesis import given, settings
from hypothesis import strategies as st

from facade.front import build_front
from facade.job import make_job

EXACT = 1e-9
GRAIN = 1e-6  # heights are rounded to about a millionth of a millimetre
BLANK, FLOOR = 21.3, 7.9
EDGES = st.sampled_from(["left", "right", "top", "bottom"])
COMBINE = st.sampled_from(["add", "multiply", "higher", "lower", "replace"])
HEIGHTS = st.floats(FLOOR, BLANK - 1.0)
LEVEL = {"kind": "points", "points": [{"place": place, "height": 14.0} for place in ([0, 0], [200, 0], [0, 200])]}
INCH = 25.4


def random_layer(draw, last):
    """Return a layer of any kind that needs no file."""
    changes = {
        "combine": draw(COMBINE if last else st.one_of(COMBINE, st.just("mask"))),
        "amount": draw(st.sampled_from([-0.7, 0.3, 1.0])),
        "stretch": draw(st.sampled_from([0.5, 1.0, 1.7])),
        "turn": draw(st.sampled_from([0.0, 0.0, 33.0, -120.0])),
        "mirror": draw(st.sampled_from(["none", "left-right", "up-down"])),
    }
    return layer_of(draw(st.sampled_from(PLAIN_KINDS)), **changes)


def random_strips(draw, door, doors, own_widths):
    """Return any sufficient set of what can be said of strips, for doors of `door` mm that they certainly fit."""
    per_door = draw(st.integers(1 if doors == 1 else 2, 5))
    edge, gap = draw(st.floats(0, 2.0)), draw(st.floats(0.1, 4.0))
    width = (door - 2 * edge - (per_door - 1) * gap) / per_door * draw(st.floats(0.6, 0.95))
    every = {"count": per_door * doors, "width": width, "gap": gap, "edge": edge}
    sets = ["width", "width gap", "width edge", "width gap edge"]
    if not own_widths:
        sets += [
            "count",
            "count width",
            "count gap",
            "count edge",
            "count width gap",
            "count width edge",
            "count gap edge",
        ]
    if per_door == 1 or own_widths:
        # A single strip cannot keep both a width and an edge that were said apart.
        sets = [names for names in sets if not {"width", "edge"} <= set(names.split())]
    return {name: every[name] for name in draw(st.sampled_from(sets)).split()}


@st.composite
def whole_jobs(draw, packed=None, patterns=("continuous", "mirrored", "repeated")):
    """Return the settings of a whole job, small and coarse, lengths in mm."""
    doors = draw(st.integers(1, 3))
    door, height, space = draw(st.floats(50, 90)), draw(st.floats(50, 100)), draw(st.floats(0.5, 6.0))
    sides = ("left", "right", "top", "bottom")
    reveals = {side: draw(st.sampled_from([0.0, 0.0, 3.3])) for side in sides} if draw(st.booleans()) else {}
    around = reveals.get("left", 0) + reveals.get("right", 0)
    front = {"width": doors * door + (doors - 1) * space + around, "height": height + 10, "reveals": reveals}
    joint = draw(st.sampled_from(["said", "left out", "hidden", "own widths"])) if doors > 1 else "left out"
    if joint == "own widths":
        front["door_widths"] = [door * share for share in (1.1, 0.9, 1.0)[:doors]]
    else:
        front["doors"] = doors
    if joint == "said":
        front["space"] = space
    strips = random_strips(draw, door - 5, doors, joint == "own widths")
    if joint == "hidden":
        front["hidden_joint"] = True
        # An edge, said or solved, must leave half of the gap.
        strips = {name: value for name, value in strips.items() if name != "edge"}
        if strips.keys() == {"count", "width", "gap"}:
            del strips["gap"]
    fit = draw(st.sampled_from([{"fit": "full"}, {"fit": "depth", "depth": 6.5}, {"fit": "as given"}]))
    count = draw(st.integers(1, 3))
    layers = [random_layer(draw, last=index == count - 1) for index in range(count)]
    across, up = front["width"], front["height"]
    return {
        "title": "Any front",
        "unit": "mm",
        "front": front,
        "strips": strips,
        "wood": {"species": "white ash", "blank": BLANK, "floor": FLOOR},
        "carving": {
            "doors": draw(st.sampled_from(patterns)),
            "packed": draw(st.booleans()) if packed is None else packed,
            **fit,
        },
        "layers": [LEVEL, *layers] if fit["fit"] == "as given" else layers,
        "lands": [
            {
                "shape": draw(st.sampled_from(["rectangle", "ellipse"])),
                "centre": [across * draw(st.floats(0.2, 0.8)), up * draw(st.floats(0.2, 0.8))],
                "size": [0.3 * across, 0.2 * up],
                "height": draw(HEIGHTS),
                "keep": draw(st.sampled_from(["flat", "at least"])),
                "blend": draw(st.sampled_from([0.0, 12.0])),
            }
            for _ in range(draw(st.integers(0, 2)))
        ],
        "fades": [{"edge": draw(EDGES), "width": 30, "height": draw(HEIGHTS)} for _ in range(draw(st.integers(0, 1)))],
        "caps": [{"edge": draw(EDGES), "width": 10, "height": draw(HEIGHTS)} for _ in range(draw(st.integers(0, 1)))],
        "sampling": {"step": 5},
    }  # fmt: skip


def front_of(job):
    """Return the front of a job's settings."""
    return build_front(make_job(job))


laws = settings(max_examples=30)


def strips_of(layout, door):
    """Return the strips of a door, from the left."""
    return layout.strips[door.first_strip - 1 : door.last_strip]


@laws
@given(whole_jobs())
def test_strips_gaps_and_edges_add_up_to_their_door(job):
    layout = front_of(job).layout
    for door, division in zip(layout.doors, layout.divisions, strict=True):
        strips = strips_of(layout, door)
        gaps = [right.left - left.right for left, right in itertools.pairwise(strips)]
        edges = [strips[0].left - door.left, door.right - strips[-1].right]
        assert sum(strip.width for strip in strips) + sum(gaps) + sum(edges) == pytest.approx(door.width, abs=EXACT)
        assert division.total == pytest.approx(door.width, abs=EXACT)
        assert edges == pytest.approx([division.edge] * 2, abs=EXACT)
        assert gaps == pytest.approx([division.gap] * len(gaps), abs=EXACT)
        assert min([*gaps, *edges]) >= -EXACT


@laws
@given(whole_jobs())
def test_doors_spaces_and_reveals_add_up_to_the_front(job):
    layout, reveals = front_of(job).layout, job["front"]["reveals"]
    spaces = [right.left - left.right for left, right in itertools.pairwise(layout.doors)]
    around = reveals.get("left", 0) + reveals.get("right", 0)
    assert sum(door.width for door in layout.doors) + sum(spaces) + around == pytest.approx(
        job["front"]["width"], abs=EXACT
    )
    assert spaces == pytest.approx([layout.space] * (len(layout.doors) - 1), abs=EXACT)
    assert layout.doors[0].left == reveals.get("left", 0)
    assert layout.doors[-1].right == pytest.approx(job["front"]["width"] - reveals.get("right", 0), abs=EXACT)


@laws
@given(whole_jobs())
def test_what_the_job_says_of_strips_is_kept(job):
    layout, said = front_of(job).layout, job["strips"]
    assert len(layout.strips) == said.get("count", len(layout.strips))
    for division in layout.divisions:
        assert division.width == pytest.approx(said.get("width", division.width), abs=EXACT)
        if division.count > 1:
            assert division.edge == pytest.approx(said.get("edge", division.edge), abs=EXACT)


@laws
@given(whole_jobs())
def test_a_hidden_joint_cannot_be_told_from_a_gap(job):
    if not job["front"].get("hidden_joint"):
        job["front"] = {name: value for name, value in job["front"].items() if name not in ("space", "door_widths")}
        job["front"] |= {"doors": 2, "hidden_joint": True}
        job["strips"] = {"count": 6}
    gaps = [right.left - left.right for left, right in itertools.pairwise(front_of(job).layout.strips)]
    assert gaps == pytest.approx([gaps[0]] * len(gaps), abs=EXACT)


@laws
@given(whole_jobs())
def test_strips_are_numbered_from_the_left_each_on_its_door_beside_its_neighbours(job):
    layout = front_of(job).layout
    count = len(layout.strips)
    assert [strip.number for strip in layout.strips] == list(range(1, count + 1))
    assert [strip.left_neighbour for strip in layout.strips] == [None, *range(1, count)]
    assert [strip.right_neighbour for strip in layout.strips] == [*range(2, count + 1), None]
    assert [strip.number for door in layout.doors for strip in strips_of(layout, door)] == list(range(1, count + 1))
    for strip in layout.strips:
        door = layout.doors[strip.door - 1]
        assert door.left - EXACT <= strip.left < strip.right <= door.right + EXACT
        assert (strip.bottom, strip.top) == (door.bottom, door.top)


@laws
@given(whole_jobs())
def test_all_heights_lie_from_the_floor_to_the_blank_less_sanding(job):
    front = front_of(job)
    for strip in front.strips():
        assert FLOOR <= strip.heights.min() <= strip.heights.max() <= front.job.highest < BLANK


@laws
@given(whole_jobs())
def test_edge_lines_are_the_surface_at_the_exact_edges(job):
    front = front_of(job)
    for strip in front.strips():
        left, right = (
            front.surface.at(np.full(len(strip.y), x), strip.y) for x in (strip.place.left, strip.place.right)
        )
        assert np.abs(strip.left_edge - left).max() <= 2 * GRAIN
        assert np.abs(strip.right_edge - right).max() <= 2 * GRAIN


@laws
@given(whole_jobs(), st.sampled_from([1.7, 2.5, 9.0]))
def test_a_changed_step_changes_no_height(job, step):
    """Edges and ends are shared by every grid; every place of one grid may be asked of the other's surface."""
    plain, other = front_of(job), front_of(job | {"sampling": {"step": step}})
    for one, two in zip(plain.strips(), other.strips(), strict=True):
        assert (
            np.abs(
                one.heights[:: len(one.y) - 1, :: len(one.x) - 1] - two.heights[:: len(two.y) - 1, :: len(two.x) - 1]
            ).max()
            <= GRAIN
        )
        assert np.abs(other.surface.at(one.x[None, :], one.y[:, None]) - one.heights).max() <= GRAIN


@laws
@given(whole_jobs(), st.sampled_from([0.5, 2.5, 9.0]))
def test_step_title_and_light_are_no_part_of_the_mark(job, step):
    other = job | {"sampling": {"step": step, "station": 40}, "title": "Another name", "picture": {"light": "top"}}
    assert front_of(other).mark == front_of(job).mark


@laws
@given(whole_jobs(), st.sampled_from(["blank", "height", "amount", "packed"]))
def test_what_is_cut_otherwise_has_another_mark(job, change):
    other = (
        job
        | {
            "blank": {"wood": job["wood"] | {"blank": BLANK + 0.1}},
            "height": {"front": job["front"] | {"height": job["front"]["height"] + 0.1}},
            "amount": {"layers": [job["layers"][0] | {"amount": 0.31}, *job["layers"][1:]]},
            "packed": {"carving": job["carving"] | {"packed": not job["carving"]["packed"]}},
        }[change]
    )
    assert front_of(other).mark != front_of(job).mark


@laws
@given(whole_jobs())
def test_the_same_job_twice_is_the_same_front(job):
    one, two = front_of(job), front_of(job)
    assert one.mark == two.mark
    assert one.layout == two.layout
    for first, second in zip(one.strips(), two.strips(), strict=True):
        assert np.array_equal(first.heights, second.heights)


@laws
@given(whole_jobs())
def test_a_strip_cut_alone_is_that_of_the_whole_front(job):
    front = front_of(job)
    last = [strip.heights for strip in front.strips()][-1]
    assert np.array_equal(front_of(job).strip(front.count).heights, last)


@laws
@given(whole_jobs())
def test_an_open_grid_gives_the_heights_of_its_points(job):
    front = front_of(job)
    x, y = np.linspace(0, job["front"]["width"], 37)[None, :], np.linspace(0, job["front"]["height"], 29)[:, None]
    assert np.abs(front.surface.at(x, y) - front.surface.at(*np.meshgrid(x[0], y[:, 0]))).max() <= 2 * GRAIN


@laws
@given(whole_jobs(packed=True, patterns=["continuous"]))
def test_packed_strips_meet_without_loss(job):
    job |= {"lands": [], "fades": [], "caps": []}
    for left, right in itertools.pairwise(front_of(job).strips()):
        assert np.abs(left.right_edge - right.left_edge).max() <= GRAIN


@laws
@given(whole_jobs())
def test_a_job_in_inches_is_the_same_job_in_millimetres(job):
    job |= {"lands": [], "fades": [], "caps": []}
    inches = job | {
        "unit": "in",
        "front": {name: in_inches(value) for name, value in job["front"].items()},
        "strips": {name: value if name == "count" else in_inches(value) for name, value in job["strips"].items()},
        "wood": {name: in_inches(value) for name, value in job["wood"].items()},
        "carving": {name: in_inches(value) for name, value in job["carving"].items()},
        "layers": [{"kind": "hills", "size": 60 / INCH, "seed": 8}],
        "sampling": {"step": "5 mm"},
    }
    job |= {"layers": [{"kind": "hills", "size": 60.0, "seed": 8}]}
    for one, two in zip(front_of(job).strips(), front_of(inches).strips(), strict=True):
        assert one.place.left == pytest.approx(two.place.left, abs=EXACT)
        assert np.abs(one.heights - two.heights).max() <= 2 * GRAIN


def in_inches(value):
    """Return lengths in inches, in lists and tables too; whole numbers and words as they are."""
    if isinstance(value, dict):
        return {name: in_inches(one) for name, one in value.items()}
    if isinstance(value, list):
        return [in_inches(one) for one in value]
    return value / INCH if isinstance(value, float) else value
