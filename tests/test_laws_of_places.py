"""Laws of lands, caps and fades, over random whole jobs: what a maker has asked of a place is found there."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from test_laws import GRAIN, front_of, whole_jobs

from facade.job import Keep, Shape

laws = settings(max_examples=40)
# Of an ellipse only the rectangle inside it is asked.
INSIDE = {Shape.RECTANGLE: 0.5, Shape.ELLIPSE: 0.5**0.5 / 2}


def with_only(job, **kept):
    """Return a job with these lands, caps and fades and no others."""
    return job | {"lands": [], "caps": [], "fades": []} | kept


def on_land(front, land):
    """Return the heights on a land."""
    reach = np.linspace(-INSIDE[land.shape], INSIDE[land.shape], 15) * (1 - 1e-12)
    return front.surface.at(
        (land.centre[0] + reach * land.size[0])[None, :], (land.centre[1] + reach * land.size[1])[:, None]
    )


@laws
@given(whole_jobs().filter(lambda job: job["lands"]))
def test_the_last_land_is_flat_where_flat_and_nowhere_lower_where_at_least(job):
    front = front_of(job | {"caps": []})
    land = front.job.lands[-1]
    heights = on_land(front, land)
    assert heights.min() >= land.height - GRAIN
    if land.keep is Keep.FLAT:
        assert heights.max() <= land.height + GRAIN


@laws
@given(whole_jobs().filter(lambda job: job["caps"]), st.floats(0.5, 25.0))
def test_nothing_on_any_door_stands_above_its_cap(job, width):
    front = front_of(job | {"caps": [cap | {"width": width} for cap in job["caps"]]})
    for cap in front.job.caps:
        for door in front.layout.doors:
            x, y = np.linspace(door.left, door.right, 40)[None, :], np.linspace(door.bottom, door.top, 40)[:, None]
            away = {"left": x - door.left, "right": door.right - x, "bottom": y - door.bottom, "top": door.top - y}[
                cap.edge
            ]
            under = np.broadcast_to(away <= cap.width, (40, 40))
            assert front.surface.at(x, y)[under].max() <= cap.height + GRAIN


@laws
@given(whole_jobs().filter(lambda job: job["fades"]))
def test_a_faded_edge_is_at_its_height_all_along(job):
    front = front_of(with_only(job, fades=job["fades"]))
    fade = front.job.fades[-1]
    x, y = np.linspace(0.0, front.layout.width, 60)[None, :], np.linspace(0.0, front.layout.height, 60)[:, None]
    side = {"left": (x[:, :1], y), "right": (x[:, -1:], y), "bottom": (x, y[:1]), "top": (x, y[-1:])}[fade.edge]
    assert np.abs(front.surface.at(*side) - fade.height).max() <= GRAIN


@laws
@given(whole_jobs().filter(lambda job: job["lands"] and job["caps"]))
def test_where_a_land_and_a_cap_disagree_the_cap_counts(job):
    lands = [
        land | {"height": job["caps"][0]["height"] + 0.3, "centre": [land["size"][0] / 2, land["size"][1] / 2]}
        for land in job["lands"]
    ]
    highest = job["wood"]["blank"] - 0.8
    lands = [land | {"height": min(land["height"], highest)} for land in lands]
    front = front_of(job | {"lands": lands, "caps": [job["caps"][0] | {"edge": "left"}]})
    door = front.layout.doors[0]
    under = np.linspace(door.left, door.left + front.job.caps[0].width, 20)[None, :]
    heights = front.surface.at(under, np.linspace(0.0, lands[-1]["size"][1], 20)[:, None])
    assert heights.max() <= front.job.caps[0].height + GRAIN
