"""Layout: every sufficient set of count, width, gap and edge is solved so that all adds up, and what cannot be is refused."""

import copy
import itertools
import re

import pytest
from following import cures_that_do_not_cure, ways_of
from helpers import a_job, refusal, small_front

from facade.checks import Weight, check_front
from facade.checks.layout import check
from facade.errors import JobError
from facade.front import build_front
from facade.job import make_job, read_job, with_lines
from facade.layout import lay_out, layout_notes
from facade.rules import rule
from facade.screen import finding_lines

EXACT = 1e-9
FRONT = {"width": 1203.7, "height": 700}
TWO_DOORS = {**FRONT, "doors": 2, "space": 4}
SETS = {
    "count": {"count": 44},
    "count and width": {"count": 44, "width": 24},
    "count and gap": {"count": 44, "gap": 2.5},
    "count and edge": {"count": 44, "edge": 6},
    "count, width and gap": {"count": 44, "width": 24, "gap": 2.5},
    "count, width and edge": {"count": 44, "width": 24, "edge": 6},
    "count, gap and edge": {"count": 44, "gap": 2.5, "edge": 6},
    "width": {"width": 24},
    "width and gap": {"width": 24, "gap": 2.5},
    "width and edge": {"width": 24, "edge": 6},
    "width, gap and edge": {"width": 24, "gap": 2.5, "edge": 6},
    "all four": {"count": 44, "width": 24, "gap": 2.5, "edge": 9.675},
}
every_set = pytest.mark.parametrize("strips", SETS.values(), ids=SETS.keys())


def settings_of(*, strips, **changes):
    """Return the settings of a small job whose strips are as said, and nothing else is said of them."""
    return a_job(**changes) | {"strips": strips}


def layout_of(*, strips=SETS["count"], **changes):
    """Return the layout of a small job."""
    return lay_out(make_job(settings_of(strips=strips, **changes)))


def notes_of(**changes):
    """Return what is said about the layout of a small job."""
    job = make_job(settings_of(**changes))
    return layout_notes(job, lay_out(job))


def refused(**changes):
    """Return what is said about a job whose strips cannot be laid out."""
    return refusal(settings_of(**changes))


def strips_of(layout, door):
    """Return the strips of a door, from the left."""
    return layout.strips[door.first_strip - 1 : door.last_strip]


def gaps_of(layout, door):
    """Return the gaps between the strips of a door."""
    return [right.left - left.right for left, right in itertools.pairwise(strips_of(layout, door))]


def edges_of(layout, door):
    """Return what is left free at the left and at the right of a door."""
    strips = strips_of(layout, door)
    return strips[0].left - door.left, door.right - strips[-1].right


@every_set
def test_strips_gaps_and_edges_fill_their_door(strips):
    layout = layout_of(front=TWO_DOORS, strips=strips)
    for door in layout.doors:
        widths = sum(strip.width for strip in strips_of(layout, door))
        assert widths + sum(gaps_of(layout, door)) + sum(edges_of(layout, door)) == pytest.approx(door.width, abs=EXACT)


@every_set
def test_doors_and_spaces_fill_the_front(strips):
    layout = layout_of(front=TWO_DOORS, strips=strips)
    assert sum(door.width for door in layout.doors) + layout.space == pytest.approx(FRONT["width"], abs=EXACT)


@every_set
def test_no_two_strips_overlap(strips):
    layout = layout_of(front=TWO_DOORS, strips=strips)
    assert min(gap for door in layout.doors for gap in gaps_of(layout, door)) >= -EXACT


@every_set
def test_both_edges_of_a_door_are_alike_and_none_sticks_out(strips):
    layout = layout_of(front=TWO_DOORS, strips=strips)
    for door in layout.doors:
        left, right = edges_of(layout, door)
        assert left == pytest.approx(right, abs=EXACT)
        assert left >= -EXACT


@every_set
def test_what_is_given_is_kept(strips):
    layout = layout_of(front=TWO_DOORS, strips=strips)
    assert len(layout.strips) == strips.get("count", len(layout.strips))
    for door in layout.doors:
        if "width" in strips:
            assert {round(strip.width, 9) for strip in strips_of(layout, door)} == {strips["width"]}
        if "edge" in strips:
            assert edges_of(layout, door) == pytest.approx([strips["edge"]] * 2, abs=EXACT)
        if "gap" in strips and strips.keys() != {"width", "gap", "edge"}:
            assert gaps_of(layout, door) == pytest.approx(
                [strips["gap"]] * (len(strips_of(layout, door)) - 1), abs=EXACT
            )


@every_set
def test_all_strips_and_all_gaps_are_alike(strips):
    layout = layout_of(front=TWO_DOORS, strips=strips)
    gaps = [gap for door in layout.doors for gap in gaps_of(layout, door)]
    widths = [strip.width for strip in layout.strips]
    assert max(gaps) - min(gaps) < EXACT
    assert max(widths) - min(widths) < EXACT


@pytest.mark.parametrize("strips", [SETS["count"], SETS["count and edge"]], ids=["count", "count and edge"])
def test_a_gap_that_nothing_decides_is_the_rule_of_thumb(strips):
    layout = layout_of(front=TWO_DOORS, strips=strips)
    assert gaps_of(layout, layout.doors[0])[0] == pytest.approx(rule("gap"), abs=EXACT)


@pytest.mark.parametrize("width", [7.0, 19.5, 24.0, 31.3])
def test_of_a_width_alone_there_are_as_many_strips_as_bring_the_gap_nearest_to_the_usual(width):
    layout = layout_of(front=FRONT, strips={"width": width})

    def gap(count):
        return (FRONT["width"] - count * width) / (count - 1)

    count = len(layout.strips)
    room = {
        other: abs((FRONT["width"] - other * width) - (other - 1) * rule("gap"))
        for other in (count - 1, count, count + 1)
    }
    assert room[count] == min(room.values())
    assert gaps_of(layout, layout.doors[0])[0] == pytest.approx(gap(count), abs=EXACT)


@pytest.mark.parametrize(
    "strips", [{"width": 24, "gap": 2.5}, {"width": 24, "gap": 2.5, "edge": 6}, {"width": 140, "gap": 0}]
)
def test_of_width_and_gap_there_are_as_many_strips_as_fit(strips):
    layout = layout_of(front=FRONT, strips=strips)
    more = len(layout.strips) + 1
    assert more * strips["width"] + (more - 1) * strips["gap"] + 2 * strips.get("edge", 0) > FRONT["width"]


def test_with_width_gap_and_edge_given_what_is_left_over_widens_the_gaps():
    layout = layout_of(front=FRONT, strips={"width": 24, "gap": 2.5, "edge": 6})
    assert gaps_of(layout, layout.doors[0])[0] >= 2.5


def test_a_front_made_for_whole_strips_loses_none_to_rounding():
    layout = layout_of(front={"width": 43 * 24.3 + 42 * 2.1, "height": 700}, strips={"width": 24.3, "gap": 2.1})
    assert len(layout.strips) == 43


def test_one_strip_alone_stands_in_the_middle():
    layout = layout_of(front={"width": 200, "height": 120}, strips={"count": 1, "width": 150})
    assert (layout.strips[0].left, layout.strips[0].right) == pytest.approx((25, 175), abs=EXACT)


def test_a_single_strip_without_more_is_as_wide_as_its_door():
    layout = layout_of(front={"width": 200, "height": 120}, strips={"count": 1})
    assert layout.strips[0].width == pytest.approx(200, abs=EXACT)


# ---- Doors


DOORS = {
    "width": 1210,
    "height": 700,
    "doors": 3,
    "space": 5,
    "reveals": {"left": 3, "right": 7, "top": 4, "bottom": 11},
}


def test_reveals_stand_around_the_doors():
    doors = layout_of(front=DOORS, strips={"count": 30}).doors
    assert (doors[0].left, 1210 - doors[-1].right, 700 - doors[0].top, doors[0].bottom) == pytest.approx(
        (3, 7, 4, 11), abs=EXACT
    )


def test_doors_of_one_front_are_equally_wide():
    widths = [door.width for door in layout_of(front=DOORS, strips={"count": 30}).doors]
    assert widths == pytest.approx([(1210 - 10 - 10) / 3] * 3, abs=EXACT)


def test_strips_are_as_long_as_the_doors_are_high():
    assert {strip.length for strip in layout_of(front=DOORS, strips={"count": 30}).strips} == {700 - 4 - 11}


def test_spaces_stand_between_the_doors():
    doors = layout_of(front=DOORS, strips={"count": 30}).doors
    assert [right.left - left.right for left, right in itertools.pairwise(doors)] == pytest.approx([5, 5], abs=EXACT)


def test_strips_are_numbered_from_the_left_over_all_doors():
    layout = layout_of(front=DOORS, strips={"count": 30})
    assert [strip.number for strip in layout.strips] == list(range(1, 31))
    assert [strip.left for strip in layout.strips] == sorted(strip.left for strip in layout.strips)


def test_every_strip_lies_on_the_door_it_names():
    layout = layout_of(front=DOORS, strips={"count": 30, "edge": 8})
    for strip in layout.strips:
        door = layout.doors[strip.door - 1]
        assert door.left <= strip.left < strip.right <= door.right
        assert door.first_strip <= strip.number <= door.last_strip


def test_neighbours_are_found_across_doors_and_end_at_the_ends():
    strips = layout_of(front=DOORS, strips={"count": 30}).strips
    assert [strip.left_neighbour for strip in strips] == [None, *range(1, 30)]
    assert [strip.right_neighbour for strip in strips] == [*range(2, 31), None]


@pytest.mark.parametrize("number", [0, -1, 31])
def test_a_strip_that_is_not_there_is_refused_with_those_that_are(number):
    with pytest.raises(JobError, match="strips 1 to 30"):
        layout_of(front=DOORS, strips={"count": 30}).strip(number)


@pytest.mark.parametrize(
    "strips",
    [
        {"count": 30},
        {"count": 30, "width": 36},
        {"count": 30, "gap": 4, "edge": 1},
        {"count": 30, "width": 36.1, "gap": 4},
        {"width": 36},
        {"width": 36, "gap": 4},
        {"width": 36, "gap": 4, "edge": 1},
    ],
)
def test_a_hidden_joint_is_as_wide_as_a_gap(strips):
    front = {name: value for name, value in DOORS.items() if name != "space"} | {"hidden_joint": True}
    layout = layout_of(front=front, strips=strips)
    gaps = [right.left - left.right for left, right in itertools.pairwise(layout.strips)]
    assert max(gaps) - min(gaps) < EXACT


def test_a_hidden_joint_of_narrow_doors_takes_a_gap_below_the_usual():
    layout = layout_of(front={"width": 19, "height": 120, "doors": 4, "hidden_joint": True}, strips={"width": 4})
    assert [(division.count, division.gap) for division in layout.divisions] == [(1, pytest.approx(1.0))] * 4


def test_the_greatest_width_that_a_hidden_joint_is_said_to_allow_is_allowed():
    front = {"width": 19, "height": 120, "doors": 4, "hidden_joint": True}
    assert "must be at most what a door gives, 2.5 mm (got 4 mm)" in refused(front=front, strips={"width": 4, "gap": 3})
    assert len(layout_of(front=front, strips={"width": 2.5, "gap": 3}).strips) == 4


def test_the_space_of_a_hidden_joint_is_a_gap_less_both_edges():
    front = {**FRONT, "doors": 2, "hidden_joint": True}
    layout = layout_of(front=front, strips={"count": 44, "gap": 4, "edge": 1.5})
    assert layout.space == pytest.approx(4 - 2 * 1.5, abs=EXACT)


def test_a_hidden_joint_on_a_single_door_changes_nothing():
    assert layout_of(front={**FRONT, "hidden_joint": True}) == layout_of(front=FRONT)


OWN = {"width": 1210, "height": 700, "door_widths": [300, 500, 390], "reveals": {"left": 4, "right": 6}}


def test_doors_may_each_have_a_width_of_their_own():
    layout = layout_of(front=OWN, strips={"width": 24})
    assert [door.width for door in layout.doors] == pytest.approx([300, 500, 390], abs=EXACT)


def test_what_doors_of_their_own_width_leave_is_shared_out_between_them():
    assert layout_of(front=OWN, strips={"width": 24}).space == pytest.approx((1210 - 10 - 1190) / 2, abs=EXACT)


def test_each_door_of_its_own_width_is_filled():
    layout = layout_of(front=OWN, strips={"width": 24, "edge": 2})
    for door in layout.doors:
        widths = sum(strip.width for strip in strips_of(layout, door))
        assert widths + sum(gaps_of(layout, door)) + 4 == pytest.approx(door.width, abs=EXACT)
        assert edges_of(layout, door) == pytest.approx((2, 2), abs=EXACT)


# ---- What cannot be

REFUSED = {
    "nothing is said": ({"strips": {}}, ["`strips`", "count", "width", "give one"]),
    "only a gap is said": ({"strips": {"gap": 3}}, ["`strips`", "count", "width", "give one"]),
    "four that disagree": (
        {"strips": {"count": 8, "width": 20, "gap": 2, "edge": 5}},
        ["`strips.edge`", "13 mm", "got 5 mm", "leave one of the four out"],
    ),
    "strips that are too many": (
        {"strips": {"count": 12, "width": 20}},
        ["`strips`", "12 strips", "240 mm", "200 mm", "at most 10", "16.667 mm wide"],
    ),
    "strips and gaps that are too wide": (
        {"strips": {"count": 8, "width": 24, "gap": 3}},
        ["`strips`", "213 mm", "200 mm", "take fewer or narrower"],
    ),
    "gaps that leave no strips": (
        {"strips": {"count": 50, "gap": 4}},
        ["`strips`", "50 strips", "4 mm", "0.08 mm", "less than 1 mm", "fewer strips"],
    ),
    "a strip wider than its door": (
        {"strips": {"width": 140}, "front": {"width": 120}},
        ["`strips.width`", "at most", "120 mm", "140 mm", "narrower"],
    ),
    "edges that leave nothing": (
        {"strips": {"count": 8, "edge": 120}},
        ["`strips.edge`", "less than half", "200 mm", "got 120 mm", "smaller"],
    ),
    "strips that cannot be shared out": (
        {"strips": {"count": 7}, "front": {"doors": 2}},
        ["`strips.count`", "multiple", "2 (got 7)", "take 6 or 8"],
    ),
    "strips that cannot be shared out over a hidden joint": (
        {"strips": {"count": 7}, "front": {"doors": 2, "hidden_joint": True}},
        ["`strips.count`", "multiple", "2 (got 7)", "take 6 or 8"],
    ),
    "an edge that leaves no hidden joint": (
        {"strips": {"count": 8, "edge": 2, "gap": 3}, "front": {"doors": 2, "hidden_joint": True}},
        ["`strips.edge`", "less than half of the gap of 3 mm", "got 2 mm", "leave the edge out"],
    ),
    "a solved edge that leaves no hidden joint": (
        {"strips": {"count": 8, "width": 20, "gap": 3}, "front": {"doors": 2, "hidden_joint": True}},
        [
            "`strips.edge`",
            "less than half of the gap of 3 mm",
            "solved as 9.5 mm",
            "leave one of count, width and gap out",
        ],
    ),
    "a space that leaves no doors": (
        {"strips": {"count": 8}, "front": {"doors": 2, "space": 200}},
        ["`front.space`", "200 mm", "make it smaller"],
    ),
    "reveals that leave no width": (
        {"strips": {"count": 8}, "front": {"reveals": {"left": 150, "right": 60}}},
        ["`front.reveals`", "width of 200 mm", "-10 mm", "smaller"],
    ),
    "reveals that leave no height": (
        {"strips": {"count": 8}, "front": {"reveals": {"top": 120}}},
        ["`front.reveals`", "height of 120 mm", "0 mm", "smaller"],
    ),
    "a count for doors of different widths": (
        {"strips": {"count": 8}, "front": {"door_widths": [120, 80]}},
        ["`strips.count`", "different widths", "give `strips.width`"],
    ),
    "a hidden joint between doors of different widths": (
        {"strips": {"width": 12}, "front": {"door_widths": [120, 77], "hidden_joint": True}},
        ["`front.hidden_joint`", "one width", "give `front.space`"],
    ),
    "doors wider than the front": (
        {"strips": {"width": 12}, "front": {"door_widths": [120, 90]}},
        ["`front.door_widths`", "200 mm", "210 mm", "change a width"],
    ),
    "doors and a space that do not fill the front": (
        {"strips": {"width": 12}, "front": {"door_widths": [100, 80], "space": 10}},
        ["`front.door_widths`", "190 mm", "180 mm", "leave `front.space` out"],
    ),
    "strips without number": (
        {"strips": {"width": 1, "gap": 0}, "front": {"width": 12000}},
        ["`strips.width`", "12000 strips", "10000", "wider"],
    ),
}


@pytest.mark.parametrize(("changes", "words"), REFUSED.values(), ids=REFUSED.keys())
def test_is_refused_by_field_value_limit_and_cure(changes, words):
    said = refused(**changes)
    assert [word for word in words if word not in said] == []


def test_the_cure_for_strips_that_do_not_fit_works():
    most = int(re.search(r"at most (\d+) of this width fit", refused(strips={"count": 12, "width": 19}))[1])
    assert len(layout_of(front={"width": 200, "height": 120}, strips={"count": most, "width": 19}).strips) == most
    assert "do not fit" in refused(strips={"count": most + 1, "width": 19})


def test_a_job_file_is_refused_at_the_line_of_the_field(tmp_path):
    path = tmp_path / "job.toml"
    path.write_text(
        'title = "T"\n[front]\nwidth = 200\nheight = 120\n[strips]\ngap = 1\ncount = 12\nwidth = 20\n'
        '[wood]\nspecies = "white ash"\nblank = 20\n[[layers]]\nkind = "hills"\nsize = 60\n',
        encoding="utf-8",
    )
    job = read_job(path)
    with pytest.raises(JobError) as caught:
        lay_out(job)
    assert [one.line for one in with_lines(caught.value, job).mistakes] == [7]


# ---- What is said


@pytest.mark.parametrize(
    ("strips", "solved"),
    [
        ({"count": 8, "width": 20}, "Solved: gap."),
        ({"count": 8, "gap": 2}, "Solved: width."),
        ({"count": 8, "width": 20, "gap": 2}, "Solved: edge."),
        ({"count": 8, "width": 20, "gap": 2, "edge": 13}, "all was given"),
        ({"width": 20}, "Solved: count and gap."),
        ({"width": 20, "gap": 2}, "Solved: count and edge."),
        ({"width": 20, "gap": 2, "edge": 3}, "Solved: count and gap."),
    ],
)
def test_it_is_said_what_was_solved(strips, solved):
    assert solved in notes_of(strips=strips)[0]


@pytest.mark.parametrize(
    ("strips", "where"),
    [
        ({"width": 20, "gap": 2}, "4 mm; it went into the edges"),
        ({"width": 20, "gap": 2, "edge": 1}, "2 mm; it was shared out over the gaps"),
    ],
)
def test_it_is_said_what_is_left_over_and_where_it_went(strips, where):
    assert f"Left over after whole strips: {where}." in notes_of(strips=strips)


def test_what_fits_exactly_leaves_nothing_over_to_speak_of():
    assert len(notes_of(strips={"count": 8, "width": 20, "gap": 2})) == 1


def test_sizes_are_said():
    (note,) = notes_of(strips={"count": 8, "width": 20, "gap": 2})
    assert note.startswith("The door of 200 mm: 8 strips of 20 mm, gaps of 2 mm, edges of 13 mm.")


def test_one_strip_is_said_without_gaps():
    assert "1 strip of 200 mm, no edges." in notes_of(strips={"count": 1})[0]


def test_equal_doors_are_said_once():
    notes = notes_of(strips={"count": 8}, front={"doors": 2, "space": 4})
    assert [note for note in notes if note.startswith("Each door of 98 mm: 4 strips")] == notes[:1]
    assert len(notes) == 2


def test_doors_that_differ_are_said_apart():
    notes = notes_of(strips={"width": 12, "edge": 0, "gap": 0}, front={"width": 300, "door_widths": [96, 108, 96]})
    assert notes[0].startswith("Doors 1 and 3 of 96 mm: 8 strips of 12 mm")
    assert notes[1].startswith("Door 2 of 108 mm: 9 strips of 12 mm")


@pytest.mark.parametrize(
    ("front", "hidden"),
    [({"doors": 2, "hidden_joint": True}, True), ({"doors": 2, "space": 3}, True), ({"doors": 2, "space": 7}, False)],
)
def test_a_joint_that_disappears_among_the_gaps_is_said_to(front, hidden):
    assert ("it disappears" in notes_of(strips={"count": 8, "gap": 3}, front=front)[-1]) == hidden


def test_the_joint_between_doors_is_the_space_and_both_edges():
    assert (
        "the joint between their strips is 9 mm"
        in notes_of(strips={"count": 8, "edge": 2.5}, front={"doors": 2, "space": 4})[-1]
    )


def test_a_job_in_inches_is_told_in_inches():
    notes = notes_of(
        unit="in",
        front={"width": "7 7/8", "height": 6},
        strips={"count": 8, "gap": "1/8"},
        wood={"blank": 1, "floor": 0.25},
    )
    assert notes[0].startswith("The door of 7 7/8 in: 8 strips of 7/8 in, gaps of 1/8 in, no edges.")


def test_a_step_too_fine_for_memory_is_refused_with_one_that_is_not():
    said = refusal(a_job(front={"width": 9000, "height": 3400}, sampling={"step": 0.05}))
    assert "`sampling.step` must be at least" in said
    step = float(re.search(r"at least ([\d.]+) mm", said)[1])
    assert small_front(front={"width": 9000, "height": 3400}, sampling={"step": step}).count == 8


# ---- What a check says of it

HIDDEN = {"width": 926, "height": 200, "doors": 2, "hidden_joint": True}
FAULTY = {
    "a gap that ends unevenly": {"front": HIDDEN, "strips": {"width": 18, "gap": 2.5}},
    "a gap that ends unevenly, three doors": {"front": HIDDEN | {"doors": 3}, "strips": {"width": 19, "gap": 2}},
    "a gap and an edge": {"front": {"width": 926, "height": 200}, "strips": {"width": 18, "gap": 2.5, "edge": 5}},
    "a gap and an edge, two doors": {"front": TWO_DOORS, "strips": {"width": 23, "gap": 2.5, "edge": 4}},
    "a gap and an edge, doors of their own": {
        "front": {"width": 926, "height": 200, "door_widths": [300, 400, 220]},
        "strips": {"width": 18, "gap": 2.5, "edge": 1},
    },
    "a gap in inches": {
        "unit": "in",
        "front": {"width": 36, "height": 12, "doors": 2, "hidden_joint": True},
        "strips": {"width": "3/4 in", "gap": "1/8 in"},
        "wood": {"species": "white oak", "blank": "7/8 in", "floor": "1/2 in"},
        "layers": [{"kind": "swell", "size": 8}],
        "sampling": {"step": "1/8 in"},
    },
    "narrow by count": {"front": {"width": 200, "height": 120}, "strips": {"count": 40, "gap": 1}},
    "narrow by count and width": {
        "front": {"width": 200, "height": 120, "doors": 2},
        "strips": {"count": 40, "width": 4},
    },
    "narrow by width": {"front": {"width": 200, "height": 120}, "strips": {"width": 6}},
    "gaps wider than strips": {"front": {"width": 200, "height": 120}, "strips": {"count": 4, "gap": 40}},
    "gaps wider than strips by count and width": {
        "front": {"width": 200, "height": 120},
        "strips": {"count": 6, "width": 12},
        "wood": {"floor": 11},
    },
    "gaps wider than strips by width": {"front": {"width": 200, "height": 120}, "strips": {"width": 12, "gap": 14}},
    "tight": {"front": {"width": 200, "height": 120}, "strips": {"count": 10, "gap": 0.3}},
    "tight by count and width": {"front": {"width": 200, "height": 120}, "strips": {"count": 10, "width": 19.7}},
}


@pytest.mark.parametrize("fault", FAULTY)
def test_every_way_out_of_what_is_said_of_the_layout_clears_it_when_it_is_typed(fault):
    """Followed, gaps are as typed, or strips and gaps as wide as they should be."""
    plain = {"wood": {"floor": 11}, "layers": SWELL, "sampling": {"step": 3}}
    settings = settings_of(**(plain | FAULTY[fault]))
    found = [one for one in check(build_front(make_job(copy.deepcopy(settings)))) if one.weight is Weight.LOOK]
    assert found
    assert all(one.topic and one.cure for one in found)
    assert cures_that_do_not_cure(settings, only="layout") == []
    if "own" not in fault:
        assert all(any(way.typed for way in ways_of(one.cure)) for one in found)


SWELL = [{"kind": "swell", "size": 200, "seed": 1}]


def test_a_gap_that_was_typed_is_never_changed_quietly():
    """Over many widths: where the gap is not what was typed a finding says so, with both; where it is nothing is said."""
    told = set()
    for width in range(880, 930, 3):
        settings = settings_of(front=HIDDEN | {"width": width}, strips={"width": 18, "gap": 2.5}, layers=SWELL)
        front = build_front(make_job(settings))
        (gap,) = {round(gap, 6) for door in front.layout.doors for gap in gaps_of(front.layout, door)}
        said = [one for one in check(front) if one.topic == "gap not as typed"]
        assert bool(said) is (abs(gap - 2.5) > 0.005)
        assert all((one.limit, one.value) == (2.5, pytest.approx(gap)) for one in said)
        told.add(bool(said))
    assert True in told


def test_what_was_shared_out_is_among_the_first_things_that_are_said():
    settings = settings_of(front=HIDDEN | {"height": 400}, strips={"width": 18, "gap": 2.5}, layers=SWELL)
    front = build_front(make_job(settings))
    lines = list(finding_lines(check_front(front), front.job.ruler))
    known = lines.index("Good to know:")
    assert any("Gaps were typed as 2.5 mm" in line for line in lines[:known])


def test_a_gap_that_nothing_was_said_of_is_not_complained_of():
    for strips in ({"width": 18}, {"count": 44}, {"count": 44, "width": 18}):
        front = build_front(make_job(settings_of(front=HIDDEN, strips=strips, layers=SWELL)))
        assert [one for one in check(front) if one.topic == "gap not as typed"] == []
