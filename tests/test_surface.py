"""Surface: the relief fitted to the wood, with its fades, lands and caps, and its floor and blank."""

import hashlib
import math
import subprocess
import sys

import numpy as np
import pytest
from helpers import CANVAS, PLAIN_KINDS, a_job, layer_of, open_grid, refusal, relief_of, small_front

from facade.reliefs import Canvas
from facade.surface import extremes, land_share

GRAIN = 1e-6  # heights are rounded to about a millionth of a millimetre
FLOOR, HIGHEST = 8.0, 19.2  # of the small job: a blank of 20 less 0.8 for sanding
WIDTH, HEIGHT = 200.0, 120.0
PLACES = open_grid(WIDTH, HEIGHT, 201, 121)
WAVES = [
    {"kind": "waves", "trains": [{"length": 37, "direction": 25}, {"length": 61, "direction": -50, "height": 0.6}]}
]


def flat(height):
    """Return a layer that is level at `height`."""
    return {"kind": "points", "points": [{"place": place, "height": height} for place in ([0, 0], [200, 0], [0, 120])]}


def front_of(**changes):
    """Return a small front of waves."""
    return small_front(**({"layers": WAVES} | changes))


def heights(front, x=None, y=None):
    """Return heights all over the front, or at rows of x and columns of y."""
    x = PLACES[0] if x is None else np.atleast_1d(np.asarray(x, dtype=np.float64))[None, :]
    y = PLACES[1] if y is None else np.atleast_1d(np.asarray(y, dtype=np.float64))[:, None]
    return front.surface.at(x, y)


# ---- Fit


@pytest.mark.parametrize("kind", PLAIN_KINDS)
def test_every_relief_lies_from_the_floor_to_what_the_blank_leaves(kind):
    z = heights(small_front(layers=[layer_of(kind)]))
    assert FLOOR <= z.min() <= z.max() <= HIGHEST


def test_a_full_fit_reaches_from_the_floor_to_the_face():
    """Whole waves of 40 crest and sink at places that are looked at."""
    z = heights(front_of(layers=[{"kind": "waves", "trains": [{"length": 40}]}]), np.arange(10, 200, 20), 60)
    assert z[0, ::2] == pytest.approx(HIGHEST, abs=1e-5)
    assert z[0, 1::2] == pytest.approx(FLOOR, abs=1e-5)


@pytest.mark.parametrize("depth", [3.0, 11.2])
def test_a_fit_of_some_depth_is_that_deep_from_the_face_down(depth):
    fitted = front_of(carving={"fit": "depth", "depth": depth}).surface.fitted
    assert fitted.reach == pytest.approx((HIGHEST - depth, HIGHEST), abs=1e-9)


def test_a_fit_as_given_takes_the_heights_for_millimetres():
    front = small_front(carving={"fit": "as given"}, layers=[flat(11.25)])
    assert heights(front) == pytest.approx(11.25, abs=GRAIN)


@pytest.mark.parametrize(("given", "left"), [(3.0, FLOOR), (25.0, HIGHEST)])
def test_what_is_given_beyond_the_wood_is_cut_off_at_it(given, left):
    z = heights(small_front(carving={"fit": "as given"}, layers=[flat(given)]))
    assert np.abs(z - left).max() == 0.0


@pytest.mark.parametrize("floor", [8.1, 8.123456789, 25.4 / 3])
def test_no_height_is_below_the_floor_by_even_a_hair(floor):
    z = heights(small_front(carving={"fit": "as given"}, layers=[flat(3.0)], wood={"floor": floor}))
    assert z.min() >= floor


@pytest.mark.parametrize("blank", [20.0, 19.05, 18.123456789])
def test_no_height_is_above_the_blank_less_sanding_by_even_a_hair(blank):
    z = heights(small_front(carving={"fit": "as given"}, layers=[flat(30.0)], wood={"blank": blank}))
    assert z.max() <= blank - 0.8


@pytest.mark.parametrize("amount", [0.001, 1.0, 1e5])
def test_a_full_fit_does_not_ask_how_strong_the_relief_is(amount):
    plain, other = heights(front_of()), heights(front_of(layers=[WAVES[0] | {"amount": amount}]))
    assert np.abs(other - plain).max() <= 2 * GRAIN


def test_a_relief_without_any_depth_is_left_at_the_face():
    assert np.abs(heights(small_front(layers=[flat(3.0)])) - HIGHEST).max() <= GRAIN


def test_heights_that_overflow_are_refused():
    said = refusal(a_job(layers=[WAVES[0] | {"amount": 1e6, "combine": "multiply"}] * 60))
    assert "`layers` must give finite heights" in said


# ---- Extremes


@pytest.mark.parametrize("length", [7.0, 23.7, 190.0])
@pytest.mark.parametrize("direction", [0.0, 17.0, 90.0])
def test_the_extremes_of_a_train_of_waves_are_its_crest_and_hollow(length, direction):
    waves = relief_of("waves", trains=[{"length": length, "direction": direction}])
    assert extremes(waves, CANVAS) == pytest.approx((-1.0, 1.0), abs=2e-6)


def test_the_extremes_of_crossing_trains_are_their_heights_together():
    trains = [{"length": 41.3, "direction": 12}, {"length": 66.7, "direction": -71, "height": 0.55}]
    assert extremes(relief_of("waves", trains=trains), CANVAS) == pytest.approx((-1.55, 1.55), abs=3.1e-6)


@pytest.mark.parametrize("centre", [[211.3, 307.7], [-80.0, 290.0]])
def test_the_extremes_of_rings_are_their_crest_and_hollow(centre):
    rings = relief_of("rings", length=83.1, sources=[{"centre": centre}])
    assert extremes(rings, CANVAS) == pytest.approx((-1.0, 1.0), abs=2e-6)


def test_the_extremes_of_a_slope_are_at_its_corners():
    assert extremes(lambda x, y: 3.0 + 0.2 * x - 0.5 * y, Canvas(300, 100)) == pytest.approx((-47.0, 63.0), abs=1e-9)


@pytest.mark.parametrize("kind", PLAIN_KINDS)
def test_nothing_lies_beyond_the_extremes(kind):
    relief = relief_of(**layer_of(kind))
    lowest, highest = extremes(relief, CANVAS)
    z = relief(*open_grid(CANVAS.width, CANVAS.height, 1201, 1001))
    hair = 1e-6 * (highest - lowest)
    assert lowest - hair <= z.min() <= z.max() <= highest + hair


# ---- Lands


LAND = {"centre": [90, 60], "size": [40, 30], "blend": 12}


@pytest.mark.parametrize("shape", ["rectangle", "ellipse"])
def test_a_flat_land_is_level_at_its_height(shape):
    front = front_of(lands=[LAND | {"shape": shape, "height": 12.5}])
    share = land_share(front.job.lands[0], *PLACES)
    assert np.count_nonzero(share == 1.0) > 500
    assert np.abs(heights(front)[share == 1.0] - 12.5).max() <= GRAIN


def test_a_rectangle_reaches_its_corners():
    share = land_share(front_of(lands=[LAND]).job.lands[0], np.array([70.0, 110.0]), np.array([45.0, 75.0]))
    assert np.array_equal(share, [1.0, 1.0])


def test_an_ellipse_ends_at_its_axes():
    land = front_of(lands=[LAND | {"shape": "ellipse", "blend": 0}]).job.lands[0]
    x, y = np.array([90 + 19.99, 90 + 20.01, 90.0, 90.0]), np.array([60.0, 60.0, 60 - 14.99, 60 - 15.01])
    assert np.array_equal(land_share(land, x, y), [1.0, 0.0, 1.0, 0.0])


def test_a_circle_is_blended_over_the_same_distance_all_round():
    land = front_of(lands=[LAND | {"shape": "ellipse", "size": [30, 30]}]).job.lands[0]
    turn = np.radians(np.arange(0, 360, 7))
    share = land_share(land, 90 + 20 * np.cos(turn), 60 + 20 * np.sin(turn))
    assert 0.0 < share[0] < 1.0
    assert share == pytest.approx(share[0], abs=1e-12)


@pytest.mark.parametrize("keep", ["flat", "at least"])
def test_beyond_its_blend_a_land_changes_nothing(keep):
    front = front_of(lands=[LAND | {"keep": keep}])
    share = land_share(front.job.lands[0], *PLACES)
    assert np.array_equal(heights(front)[share == 0.0], heights(front_of())[share == 0.0])


def test_within_its_blend_a_land_lies_between_the_relief_and_its_height():
    z, plain = heights(front_of(lands=[LAND | {"height": 12.5}])), heights(front_of())
    assert (z >= np.minimum(plain, 12.5) - GRAIN).all()
    assert (z <= np.maximum(plain, 12.5) + GRAIN).all()


def test_a_land_runs_into_the_relief_without_a_step():
    x = np.linspace(112, 120, 801)
    steep = np.abs(np.diff(heights(front_of(lands=[LAND | {"height": 8.0}]), x, 60.0)) / np.diff(x)).max()
    # The steepest of smooth_step is 15/8 of its mean; the relief adds its own slope.
    plain = np.abs(np.diff(heights(front_of(), x, 60.0)) / np.diff(x)).max()
    assert steep <= (HIGHEST - FLOOR) / 12 * 15 / 8 + plain + 1e-3


def test_a_land_runs_into_the_relief_without_a_fold():
    """Second differences are at most the second derivative's greatest value times the step squared: 10/sqrt(3) of a smoother step's mean."""
    x = np.linspace(105, 127, 2201)
    bends = [
        np.abs(np.diff(heights(front_of(lands=some), x, 60.0), 2)).max() for some in ([LAND | {"height": 8.0}], [])
    ]
    assert bends[0] <= (HIGHEST - FLOOR) * 10 / math.sqrt(3) / 12**2 * 0.01**2 + 3 * bends[1] + 4 * GRAIN


def test_a_land_of_no_blend_ends_at_its_edge():
    front = front_of(lands=[LAND | {"blend": 0, "height": 9.0}])
    inside, outside = heights(front, [110.0, 110.01], 60.0)[0]
    assert inside == 9.0
    assert outside == heights(front_of(), 110.01, 60.0)[0, 0]


def test_a_land_is_as_high_as_the_blank_allows_where_nothing_is_said():
    assert heights(front_of(lands=[LAND]), 90, 60)[0, 0] == pytest.approx(HIGHEST, abs=GRAIN)


def test_a_land_at_least_is_nowhere_lower():
    front = front_of(lands=[LAND | {"keep": "at least", "height": 14.0}])
    inside = land_share(front.job.lands[0], *PLACES) == 1.0
    assert heights(front)[inside].min() >= 14.0 - GRAIN


def test_a_land_at_least_leaves_what_is_higher():
    plain, z = heights(front_of()), heights(front_of(lands=[LAND | {"keep": "at least", "height": 11.0}]))
    higher = plain > 12.0
    assert np.abs(z - plain)[higher].max() <= GRAIN


# ---- Caps


CAP = {"edge": "left", "width": 30, "height": 11.0, "blend": 15}


def distance(edge, x, y):
    """Return how far the places are from an edge of the small front, shaped (rows, columns)."""
    return {"left": x, "right": WIDTH - x, "top": HEIGHT - y, "bottom": y}[edge] + 0.0 * (x + y)


@pytest.mark.parametrize("edge", ["left", "right", "top", "bottom"])
def test_nothing_under_a_cap_is_higher(edge):
    z = heights(front_of(caps=[CAP | {"edge": edge}]))
    assert z[distance(edge, *PLACES) <= 30].max() <= 11.0 + GRAIN


@pytest.mark.parametrize("edge", ["left", "right", "top", "bottom"])
def test_beyond_its_blend_a_cap_changes_nothing(edge):
    z, beyond = heights(front_of(caps=[CAP | {"edge": edge}])), distance(edge, *PLACES) >= 45
    assert np.array_equal(z[beyond], heights(front_of())[beyond])


def test_a_cap_raises_nothing():
    assert (heights(front_of(caps=[CAP])) <= heights(front_of()) + GRAIN).all()


def test_a_cap_leaves_what_is_well_below_it():
    plain, z = heights(front_of()), heights(front_of(caps=[CAP]))
    assert np.array_equal(z[plain < 9.9], plain[plain < 9.9])


def test_a_cap_of_one_door_leaves_the_others():
    front = {"width": 200, "height": 120, "doors": 2, "space": 4}
    plain, z = heights(front_of(front=front)), heights(front_of(front=front, caps=[CAP | {"door": 2}]))
    changed = np.flatnonzero((z != plain).any(axis=0))
    assert changed.min() >= 102
    assert changed.max() <= 102 + 45


def test_a_cap_of_no_door_in_particular_is_kept_on_every_door():
    front = front_of(front={"width": 200, "height": 120, "doors": 2, "space": 4}, caps=[CAP])
    for door in front.layout.doors:
        assert heights(front, np.linspace(door.left, door.left + 30, 31)).max() <= 11.0 + GRAIN


# ---- Fades


@pytest.mark.parametrize("edge", ["left", "right", "top", "bottom"])
def test_a_fade_reaches_its_height_at_the_edge(edge):
    z = heights(front_of(fades=[{"edge": edge, "width": 50, "height": 10.0}]))
    at_edge = z[distance(edge, *PLACES) == 0.0]
    assert np.abs(at_edge - 10.0).max() <= GRAIN


def test_a_fade_ends_at_the_face_where_nothing_is_said():
    z = heights(front_of(fades=[{"edge": "left", "width": 50}]), 0.0)
    assert z == pytest.approx(HIGHEST, abs=GRAIN)


@pytest.mark.parametrize("edge", ["left", "right", "top", "bottom"])
def test_beyond_its_width_a_fade_changes_nothing(edge):
    z, beyond = heights(front_of(fades=[{"edge": edge, "width": 50}])), distance(edge, *PLACES) >= 50
    assert np.array_equal(z[beyond], heights(front_of())[beyond])


def test_a_fade_stays_between_the_relief_and_its_height():
    plain, z = heights(front_of()), heights(front_of(fades=[{"edge": "top", "width": 70, "height": 12.0}]))
    assert (z >= np.minimum(plain, 12.0) - GRAIN).all()
    assert (z <= np.maximum(plain, 12.0) + GRAIN).all()


def test_a_land_stands_in_a_fade_and_a_cap_cuts_a_land():
    land = {"centre": [30, 60], "size": [60, 60], "height": 16.0}
    fade = {"edge": "left", "width": 60, "height": 9.0}
    cap = {"edge": "left", "width": 20, "height": 12.0, "blend": 10}
    assert heights(front_of(lands=[land], fades=[fade]), 5, 60)[0, 0] == pytest.approx(16.0, abs=GRAIN)
    assert heights(front_of(lands=[land], fades=[fade], caps=[cap]), 5, 60)[0, 0] <= 12.0


# ---- Doors and gaps


DOORS = {"width": 303, "height": 120, "doors": 3, "space": 6, "reveals": {"left": 2, "right": 4}}


def door_heights(pattern, packed=False):
    """Return the doors of a front, and a function of places in a door (from its left) to heights there."""
    strips, carving = {"count": 12, "gap": 5, "edge": 3}, {"doors": pattern, "packed": packed}
    front = small_front(front=DOORS, strips=strips, carving=carving, layers=[layer_of("facets", size=30)])
    return front, [
        lambda t, door=door: heights(front, door.left + t, np.linspace(0, 120, 61)) for door in front.layout.doors
    ]


def on_wood(front):
    """Return places in the first door, from its left, that lie on its strips, edges included."""
    door = front.layout.doors[0]
    strips = front.layout.strips[: door.last_strip]
    return np.concatenate([np.linspace(strip.left - door.left, strip.right - door.left, 9) for strip in strips])


@pytest.mark.parametrize("packed", [False, True])
def test_repeated_doors_are_equal(packed):
    front, doors = door_heights("repeated", packed)
    t = on_wood(front)
    first = doors[0](t)
    assert np.ptp(first) > 5
    assert np.abs(doors[1](t) - first).max() < 1e-5
    assert np.abs(doors[2](t) - first).max() < 1e-5


@pytest.mark.parametrize("packed", [False, True])
def test_every_second_mirrored_door_is_a_mirror_image(packed):
    front, doors = door_heights("mirrored", packed)
    t = on_wood(front)
    first = doors[0](t)
    assert np.abs(first - first[:, ::-1]).max() > 5
    assert np.abs(doors[1](front.layout.doors[0].width - t) - first).max() < 1e-5
    assert np.abs(doors[2](t) - first).max() < 1e-5


def test_a_continuous_relief_takes_no_notice_of_doors_and_gaps():
    one = front_of(front={"width": 200, "height": 120})
    many = front_of(front={"width": 200, "height": 120, "doors": 2, "space": 9}, strips={"count": 6, "gap": 7})
    assert np.array_equal(heights(one), heights(many))


@pytest.mark.parametrize(("pattern", "doors"), [("continuous", 1), ("continuous", 3), ("mirrored", 3), ("repeated", 1)])
def test_strips_that_are_carved_packed_meet_without_loss(pattern, doors):
    front = small_front(
        front=DOORS | {"doors": doors}, strips={"count": 12, "gap": 4, "edge": 2},
        carving={"packed": True, "doors": pattern}, layers=[layer_of("swell", size=60)],
    )  # fmt: skip
    strips = front.layout.strips
    right = heights(front, [strip.right for strip in strips[:-1]])
    left = heights(front, [strip.left for strip in strips[1:]])
    assert np.ptp(right) > 3
    assert np.abs(right - left).max() < 1e-9


def test_a_packed_relief_is_as_wide_as_the_wood():
    """The crests of a train stand as many lengths apart as there is wood between them."""
    front = small_front(
        carving={"packed": True},
        strips={"count": 8, "gap": 5},
        layers=[{"kind": "waves", "trains": [{"length": 41.25}]}],
    )
    width = front.layout.strips[0].width
    assert 2 * width == pytest.approx(41.25)
    every_second = heights(front, [strip.left + 3.0 for strip in front.layout.strips[::2]], 60)
    assert np.abs(every_second - every_second[0, 0]).max() < 1e-5


def test_without_packing_the_gap_is_missing_wood():
    front, packed = (
        front_of(strips={"count": 8, "gap": 5}),
        front_of(strips={"count": 8, "gap": 5}, carving={"packed": True}),
    )
    assert np.array_equal(heights(front), heights(front_of(strips={"count": 5})))
    assert np.abs(heights(front) - heights(packed)).max() > 1


@pytest.mark.parametrize(
    ("front", "strips", "pattern"),
    [
        ({"doors": 2, "space": 0}, {"count": 8}, "repeated"),
        ({"door_widths": [120, 80], "space": 0}, {"width": 20, "gap": 0}, "mirrored"),
    ],
)
def test_doors_that_touch_with_different_heights_are_refused(front, strips, pattern):
    """No place can have two heights."""
    said = refusal(a_job(front=front, carving={"doors": pattern}, layers=WAVES) | {"strips": strips})
    assert [word for word in ("`front.space`", "more than 0", "got 0 mm", "leave a space") if word not in said] == []


def test_mirrored_doors_may_touch():
    front = front_of(front={"width": 200, "height": 120, "doors": 2, "space": 0}, carving={"doors": "mirrored"})
    t = np.linspace(0, 100, 51)
    assert heights(front, 100 - t) == pytest.approx(heights(front, 100 + t), abs=1e-5)


def test_repeated_doors_whose_strips_keep_from_the_edge_may_touch():
    touching = {"width": 200, "height": 120, "doors": 2, "space": 0}
    front = front_of(front=touching, strips={"count": 8, "edge": 1}, carving={"doors": "repeated"})
    x = np.linspace(1, 99, 50)
    assert heights(front, x) == pytest.approx(heights(front, x + 100), abs=1e-5)


# ---- Places


@pytest.mark.parametrize("kind", PLAIN_KINDS)
def test_an_open_grid_gives_the_heights_of_its_points(kind):
    front = small_front(layers=[layer_of(kind)], lands=[LAND], caps=[CAP], fades=[{"edge": "top", "width": 20}])
    x, y = open_grid(WIDTH, HEIGHT, 41, 29)
    full = np.meshgrid(x[0], y[:, 0])
    assert np.abs(front.surface.at(x, y) - front.surface.at(*full)).max() <= GRAIN


def test_one_row_and_one_place_are_answered_in_their_shape():
    surface = front_of().surface
    assert surface.at(np.array([3.0]), np.array([4.0])).shape == (1,)
    assert surface.at(np.linspace(0, 9, 4)[None, :], np.array([[4.0]])).shape == (1, 4)
    assert surface.at(np.array([[4.0]]), np.linspace(0, 9, 4)[:, None]).shape == (4, 1)


def test_asking_leaves_the_places_untouched():
    x, y = PLACES[0].copy(), PLACES[1].copy()
    heights(front_of(lands=[LAND], caps=[CAP], fades=[{"edge": "top", "width": 20}]))
    assert np.array_equal(x, PLACES[0])
    assert np.array_equal(y, PLACES[1])


def test_heights_are_whole_parts_of_a_grain_between_floor_and_face():
    """Whole multiples of 2^-20 mm, so that the last bit of a sine does not show."""
    z = heights(front_of())
    inside = z[(z > FLOOR) & (z < HIGHEST)]
    assert np.array_equal(inside * 2**20, np.rint(inside * 2**20))


def hash_of_every_kind():
    """Return the SHA-256 of the heights of a front that has every plain kind of relief in it."""
    layers = [layer_of(kind) for kind in PLAIN_KINDS]
    front = small_front(layers=layers, sampling={"step": 4}, lands=[LAND], carving={"packed": True})
    return hashlib.sha256(b"".join(strip.heights.tobytes() for strip in front.strips())).hexdigest()


def test_another_process_finds_the_same_heights_to_the_last_bit():
    code = f"import sys; sys.path[:0] = {sys.path!r}; import test_surface; print(test_surface.hash_of_every_kind())"
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert said.strip() == hash_of_every_kind()


def test_a_fitted_line_is_what_the_surface_follows():
    front = front_of()
    fitted = front.surface.fitted
    x, y = PLACES
    first, second = WAVES[0]["trains"]
    relief = 0.0
    for train in (first, second):
        turn = math.radians(train["direction"])
        relief = relief + train.get("height", 1.0) * np.sin(
            2 * math.pi / train["length"] * (x * math.cos(turn) + y * math.sin(turn))
        )
    assert np.abs(heights(front) - (fitted.offset + fitted.scale * relief)).max() <= GRAIN
