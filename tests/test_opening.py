"""The measured opening: sizes that go in, the reading that is a slip, edges that are planed, and the picture of it all."""

from __future__ import annotations

import io
import math
import re
from typing import Any

import numpy as np
import pytest
from helpers import a_job, refusal, small_front
from openings import CROOKED, Point, as_opening, corners_to_readings, front_in, right_angled
from PIL import Image

from facade.checks import Finding, Weight
from facade.checks.opening import check
from facade.doors.opening import OpeningFit, Slip, doubt_of, fit_opening
from facade.doors.quadrilateral import Name
from facade.front import Front

SLIP = 6.0


def looks(front: Front) -> list[Finding]:
    return [finding for finding in check(front) if finding.weight is not Weight.KNOW]


def only(front: Front, topic: str) -> Finding:
    (found,) = [finding for finding in check(front) if finding.topic == topic]
    return found


def fitted(opening: dict[str, Any], **changes: Any) -> OpeningFit:
    front = front_in(opening, **changes)
    fit = fit_opening(front.job, front.layout)
    assert fit is not None
    return fit


# Sizes.


def test_a_front_that_fits_its_opening_is_told_its_door_sizes_and_nothing_else() -> None:
    """Two doors share what 900 leaves of two reveals of 2 and a space of 3."""
    (found,) = check(front_in(right_angled(diagonals=[math.hypot(900, 700)] * 2, plumb=[0, 0])))
    assert found.weight is Weight.KNOW
    assert "2 doors of 446.5 mm by 696 mm" in found.sentence


def test_an_opening_that_was_not_measured_is_one_short_word() -> None:
    (found,) = check(front_in(None))
    assert found.weight is Weight.KNOW
    assert "not measured" in found.sentence


def test_inset_doors_go_by_the_smallest_reading_and_overlay_doors_by_the_greatest() -> None:
    crooked = {"widths": [901, 900.2, 899.5], "heights": [700, 700.8, 699.2]}
    inset = fitted({"mounting": "inset"} | crooked)
    overlay = fitted({"mounting": "overlay", "overlap": 12} | crooked)
    assert (inset.width, inset.height) == pytest.approx((899.5, 699.2), abs=0.002)
    assert (overlay.width, overlay.height) == pytest.approx((901 + 24, 700.8 + 24), abs=0.002)


def test_doors_divide_what_is_left_of_the_right_front_equally() -> None:
    fit = fitted(right_angled(894, 696))
    assert fit.doors == ((pytest.approx((894 - 4 - 3) / 2), pytest.approx(692)),) * 2


def test_doors_of_their_own_widths_share_the_difference() -> None:
    fit = fitted(right_angled(890), front={"doors": 2, "door_widths": [400, 493]}, strips={"count": None, "width": 18})
    assert [wide for wide, _ in fit.doors] == [pytest.approx(395), pytest.approx(488)]


def test_an_inset_front_larger_than_the_smallest_reading_stops_and_its_cure_goes_in() -> None:
    opening = right_angled() | {"widths": [900, 899.5, 899], "heights": [700, 699, 698.5]}
    stops = [found for found in check(front_in(opening)) if found.weight is Weight.STOPS]
    assert [found.value for found in stops] == [900, 700]
    assert [found.limit for found in stops] == pytest.approx([899, 698.5], abs=0.002)
    assert "width at the bottom" in stops[0].sentence
    width, height = (float(re.search(r"= ([\d.]+\d)", found.cure)[1]) for found in stops)
    cured = front_in(opening, front={"width": width, "height": height})
    assert [found for found in check(cured) if found.weight is Weight.STOPS] == []


def test_an_overlay_front_smaller_than_what_it_must_cover_stops_and_its_cure_covers() -> None:
    opening = right_angled(mounting="overlay", overlap=10)
    stops = [found for found in check(front_in(opening)) if found.weight is Weight.STOPS]
    assert [found.limit for found in stops] == [920, 720]
    cured = front_in(opening, front={"width": 920, "height": 720})
    assert looks(cured) == []


def test_an_inset_front_much_smaller_than_its_opening_wants_a_look() -> None:
    found = only(front_in(right_angled(), front={"width": 880}), "width of the front")
    assert (found.weight, found.value, found.limit) == (Weight.LOOK, 880, 900)


def test_an_overlap_of_inset_doors_is_refused() -> None:
    message = refusal(a_job(opening=right_angled(200, 120, overlap=10)))
    assert "`opening.overlap` counts only with mounting" in message


# Slips.


@pytest.mark.parametrize("by", [SLIP, -SLIP])
@pytest.mark.parametrize("name", list(Name))
def test_a_slip_of_6_mm_in_any_one_reading_is_named(name: Name, by: float) -> None:
    doubt = doubt_of(CROOKED | {name: CROOKED[name] + by}, 2.0)
    assert doubt is not None
    assert doubt.slip is not None
    assert doubt.slip.name is name
    assert doubt.slip.others_give == pytest.approx(CROOKED[name], abs=0.7)


@pytest.mark.parametrize("name", [Name.TOP, Name.ACROSS, Name.BOTTOM, Name.UPRIGHT, Name.FALLING, Name.RISING])
def test_a_slip_is_named_without_a_plumb_line_too(name: Name) -> None:
    readings = {key: value for key, value in CROOKED.items() if key not in (Name.LEFT_LEAN, Name.RIGHT_LEAN)}
    doubt = doubt_of(readings | {name: readings[name] + SLIP}, 2.0)
    assert doubt is not None
    assert isinstance(doubt.slip, Slip)
    assert doubt.slip.name is name


@pytest.mark.parametrize("seed", range(20))
def test_a_slip_in_a_random_crooked_opening_is_at_least_among_those_that_are_named(seed: int) -> None:
    """Corners off by 1 mm, readings by up to 0.4 mm, one reading by 6 mm."""
    chance = np.random.default_rng(seed)
    width, height = chance.uniform(400, 2400, 2)
    off = chance.normal(0, 1.0, 6)
    true = corners_to_readings((width + off[0], off[1]), (width + off[2], height + off[3]), (off[4], height + off[5]))
    read = {name: value + chance.uniform(-0.4, 0.4) for name, value in true.items()}
    assert doubt_of(read, 2.0) is None
    slip = list(Name)[chance.integers(len(Name))]
    doubt = doubt_of(read | {slip: read[slip] + SLIP}, 2.0)
    assert doubt is not None
    assert slip in [one.name for one in doubt.slips]


@pytest.mark.parametrize(
    "corners",
    [
        ((900.0, 0.0), (912.0, 700.0), (0.0, 700.0)),  # widens upwards on one side
        ((900.0, 0.0), (908.0, 700.0), (8.0, 700.0)),  # leans
        ((900.0, 9.0), (900.0, 709.0), (0.0, 700.0)),  # sill and head run up
        ((900.0, 0.0), (905.0, 706.0), (-4.0, 695.0)),  # none of its sides is parallel
    ],
)
def test_an_opening_that_is_truly_crooked_is_not_taken_for_a_slip(corners: tuple[Point, Point, Point]) -> None:
    assert doubt_of(corners_to_readings(*corners), 2.0) is None


def test_the_reading_that_disagrees_is_said_with_what_it_stands_against() -> None:
    opening = right_angled() | {"widths": [900, 900.5, 894]}
    found = only(front_in(opening, front={"width": 894}), "reading that disagrees")
    assert found.sentence.startswith("Width at the bottom 894 mm against 900 mm and 900.5 mm")
    assert "again" in found.cure


def test_when_a_slip_decides_the_size_it_is_measured_again_first() -> None:
    found = only(front_in(right_angled() | {"widths": [900, 900.5, 894]}), "width of the front")
    assert found.weight is Weight.STOPS
    assert found.cure.startswith("First measure the width at the bottom again")


def test_where_two_readings_could_be_the_slip_both_are_named() -> None:
    """Both diagonals 6 mm too long against widths and heights: either may be the one that is 12 mm off."""
    diagonal = math.hypot(900, 700) + SLIP
    found = only(front_in(right_angled(diagonals=[diagonal, diagonal])), "reading that disagrees")
    assert "either the diagonal from the top" in found.sentence
    assert "diagonal from the top left" in found.sentence
    assert "diagonal from the top right" in found.sentence


def test_when_no_single_reading_explains_it_what_stands_against_what_is_said() -> None:
    opening = right_angled() | {"widths": [900, 910, 900], "heights": [700, 712, 700]}
    found = only(front_in(opening), "reading that disagrees")
    assert "no single one explains it" in found.sentence
    assert "height in the middle against those at left and right" in found.sentence


def test_a_width_that_the_diagonals_bear_out_is_no_slip_but_wants_doors_that_fit() -> None:
    readings = corners_to_readings((894.0, 0.0), (900.0, 700.0), (0.0, 700.0))
    found = only(front_in(as_opening(readings), front={"width": 894}), "widths differ")
    assert found.value == pytest.approx(6.0, abs=0.01)
    assert "bear it out" in found.sentence
    assert not [one for one in check(front_in(as_opening(readings))) if one.topic == "reading that disagrees"]


def test_the_limit_of_readings_may_be_set_and_is_named_as_such() -> None:
    opening = right_angled() | {"widths": [900, 900, 902.5]}
    wide = front_in(opening, limits={"readings": 5})
    assert not [found for found in looks(wide) if "disagree" in found.topic or "differ" in found.topic]
    tight = only(front_in(opening, limits={"readings": 0.5}), "reading that disagrees")
    assert tight.limit == 0.5
    assert "said in the job" in tight.source


def test_a_limit_of_nothing_at_all_still_names_the_slip() -> None:
    doubt = doubt_of(CROOKED | {Name.TOP: CROOKED[Name.TOP] + SLIP}, 0.0)
    assert doubt is not None


# Square, plumb, flat.


@pytest.mark.parametrize("shift", [3.0, -5.0])
def test_out_of_square_is_what_the_diagonals_of_a_sheared_rectangle_say(shift: float) -> None:
    readings = corners_to_readings((900.0, 0.0), (900.0 + shift, 700.0), (shift, 700.0))
    found = only(front_in(as_opening(readings)), "out of square")
    assert found.value == pytest.approx(abs(shift), abs=0.01)
    assert ("to the left" if shift > 0 else "to the right") in found.cure


def test_a_slip_in_a_diagonal_is_not_taken_for_an_opening_out_of_square() -> None:
    diagonal = math.hypot(900, 700)
    front = front_in(right_angled(diagonals=[diagonal + SLIP, diagonal], plumb=[0, 0]))
    assert [found.topic for found in looks(front)] == ["reading that disagrees"]


@pytest.mark.parametrize("leans", [(3.0, -2.0), (-1.5, -1.5), (2.0, 0.0)])
def test_planed_edges_leave_an_even_gap_beside_sides_that_lean(leans: tuple[float, float]) -> None:
    """A plumb front, its edge planed from top to bottom as told, keeps one distance from the straight side."""
    readings = corners_to_readings((900.0, 0.0), (900.0 + leans[1], 700.0), (leans[0], 700.0))
    left, right, *_ = fitted(as_opening(readings)).tapers
    low, high = 2.0 / 700, 698.0 / 700  # the strips' ends, as shares of the opening's height
    gaps = [(edge - lean * share) for edge, lean, share in ((left.last, leans[0], low), (left.first, leans[0], high))]
    assert gaps[0] == pytest.approx(gaps[1], abs=0.01)
    gaps = [(edge + lean * share) for edge, lean, share in ((right.last, leans[1], low), (right.first, leans[1], high))]
    assert gaps[0] == pytest.approx(gaps[1], abs=0.01)
    assert min(left.first, left.last) == min(right.first, right.last) == 0.0


def test_what_is_planed_is_said_of_the_right_strip_and_end() -> None:
    readings = corners_to_readings((898.4, 0.0), (900.0, 700.0), (0.0, 700.0))
    found = only(front_in(as_opening(readings), front={"width": 898.4}), "taper at the right")
    assert (found.strip, found.from_left) == (40, pytest.approx(front_in(None).layout.strip(40).width, abs=0.1))
    assert found.from_top == pytest.approx(696)
    assert "right edge of strip 40: from 0 mm at the top to 1.6 mm at the bottom; leave 2 mm on" in found.cure


def test_more_is_left_on_where_more_must_be_planed() -> None:
    readings = corners_to_readings((900.0, 0.0), (903.5, 700.0), (3.5, 700.0))
    assert fitted(as_opening(readings)).tapers[0].left_on == pytest.approx(3.5 * 696 / 700, abs=0.01)


def test_without_a_plumb_line_both_sides_share_what_the_widths_differ_by() -> None:
    left, right, *_ = fitted(right_angled() | {"widths": [901.8, 900.9, 900]}).tapers
    assert (left.first, right.first) == (0.0, 0.0)
    assert left.last == pytest.approx(0.9 * 696 / 700, abs=0.001)
    assert right.last == pytest.approx(left.last, abs=0.001)


def test_doors_that_lie_over_their_opening_are_not_planed_to_it() -> None:
    readings = corners_to_readings((900.0, 0.0), (904.0, 700.0), (4.0, 700.0))
    opening = as_opening(readings, mounting="overlay", overlap=10)
    front = front_in(opening, front={"width": 924, "height": 724})
    assert not [found for found in check(front) if found.topic.startswith("taper")]


def test_an_opening_twisted_beyond_the_warp_that_doors_may_have_is_named() -> None:
    found = only(front_in(right_angled(twist=3)), "twist of the opening")
    assert (found.value, found.limit) == (3.0, 1.5)
    assert looks(front_in(right_angled(twist=1.5))) == []


def test_who_measured_is_said() -> None:
    found = check(front_in(right_angled(measured="4 May, with the client")))[0]
    assert found.source == "measured by you (4 May, with the client)"


def inch_front() -> Front:
    opening = {"mounting": "inset", "widths": [36, 36.0625, 35.625], "heights": [30, 30, 29.9375]}
    opening |= {"diagonals": [47.1, 46.6], "plumb": [0.25, -0.125], "twist": 0.25}
    return small_front(
        unit="in",
        front={"width": 36, "height": 30, "doors": 2, "space": 0.125},
        strips={"count": 40},
        wood={"blank": 0.875, "floor": 0.3125},
        layers=[{"kind": "hills", "size": 3}],
        opening=opening,
    )


def test_a_job_in_inches_is_told_in_inches() -> None:
    found = check(inch_front())
    assert len(found) > 4
    assert not re.search(r"\bmm\b", " ".join(one.sentence + one.cure for one in found))


# The picture.


def picture(front: Front, width: int = 1600) -> Image.Image:
    from facade.pictures.opening import opening_picture

    return Image.open(io.BytesIO(opening_picture(front, width)))


@pytest.mark.parametrize("width", [800, 1600])
def test_the_picture_is_grey_and_as_wide_as_asked(width: int) -> None:
    image = picture(front_in(as_opening(CROOKED)), width)
    assert (image.mode, image.width) == ("L", width)


def test_the_same_opening_gives_the_same_bytes_and_another_gives_others() -> None:
    from facade.pictures.opening import opening_picture

    first, again, other = (
        opening_picture(front_in(as_opening(readings)))
        for readings in (CROOKED, CROOKED, CROOKED | {Name.TOP: CROOKED[Name.TOP] + 1.0})
    )
    assert first == again
    assert first != other


def test_deviations_are_drawn_ten_times_as_large() -> None:
    """Sides that lean by 3 mm reach 3 mm beyond an upright rectangle of 897 at both sides, drawn as 30."""
    readings = corners_to_readings((900.0, 0.0), (903.0, 700.0), (3.0, 700.0))
    front = front_in(as_opening(readings), front={"width": 897}, limits={"taper": 10})
    ink = np.asarray(picture(front))[140:980, 350:1250] < 30
    tall = np.flatnonzero(ink.any(axis=0))
    beside = np.flatnonzero(ink[:, tall[0] : tall[0] + 40].any(axis=1))
    drawn = (tall[-1] - tall[0]) / (beside[-1] - beside[0])
    assert drawn == pytest.approx((897 + 2 * 30) / 700, rel=0.01)


def test_what_is_planed_is_drawn_as_a_dark_wedge_at_each_edge() -> None:
    readings = corners_to_readings((900.0, 4.0), (905.0, 706.0), (-4.0, 697.0))
    wedge = np.asarray(picture(front_in(as_opening(readings)))) == 70
    assert wedge.sum() > 4000
    even = right_angled(diagonals=[math.hypot(900, 700)] * 2, plumb=[0, 0])
    assert (np.asarray(picture(front_in(even))) == 70).sum() < wedge.sum() / 10


@pytest.mark.parametrize(
    "opening",
    [
        as_opening(CROOKED),
        right_angled(500, 2200),
        right_angled(2400, 300, diagonals=[2419, 2418.4], plumb=[1, 2]),
        right_angled() | {"widths": [900, 960, 840], "heights": [700, 500, 700], "plumb": [60, -60]},
    ],
)
def test_nothing_of_the_picture_is_cut_off(opening: dict[str, Any]) -> None:
    ink = np.asarray(picture(front_in(opening))) < 200
    assert not ink[:20].any()
    assert not ink[-20:].any()
    assert not ink[:, :20].any()
    assert not ink[:, -20:].any()


def test_a_picture_of_an_opening_in_inches_is_drawn() -> None:
    assert picture(inch_front()).height > 800


def test_a_job_without_an_opening_has_no_picture_of_it() -> None:
    from facade.errors import JobError

    with pytest.raises(JobError, match="opening"):
        picture(front_in(None))
