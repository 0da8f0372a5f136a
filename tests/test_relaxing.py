"""Relaxing: the smallest change that clears what stops a job, in a new job file; honest where nothing does."""

from __future__ import annotations

import io
import re
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tomlkit

from facade.checks import Weight, check_front
from facade.cli import main
from facade.doors.pulls import MEASURED, measure_pull
from facade.front import Front, build_front
from facade.job import read_job
from facade.lengths import Unit, read_length
from facade.relaxing import Relaxed, relax
from facade.relaxing.bars import Bar, merged
from facade.relaxing.search import MOVES
from facade.relaxing.seen import Places

BASE = """
# A small front of our own.
title = "A trial"
[front]
width = 207
height = 300
[strips]
count = 10     # ten
gap = 3
[wood]
species = "white ash"
blank = 20
floor = 8      # a floor
[[layers]]
kind = "waves"
trains = [{ length = 140, direction = 70 }]
"""


def relaxed(tmp_path: Path, text: str, name: str = "trial", *, looks: bool = False) -> Relaxed:
    path = tmp_path / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    return relax(read_job(path), tmp_path, looks=looks)


def stopping(text: str, tmp_path: Path) -> set[str]:
    path = tmp_path / "again.toml"
    path.write_text(text, encoding="utf-8")
    return {one.check for one in check_front(build_front(read_job(path))) if one.weight is Weight.STOPS}


def test_what_nothing_stops_is_left_as_it_is(tmp_path: Path) -> None:
    made = relaxed(tmp_path, BASE)
    assert made.changes == ()
    assert made.text == BASE
    assert made.left == ()
    assert made.moved.most == 0.0


STEEP = (
    BASE.replace("length = 140, direction = 70", "length = 45, direction = 90")
    + '[cutter]\nshape = "ball"\nradius = 6\n'
)
STANDING = BASE.replace("length = 140, direction = 70", "length = 50, direction = 90").replace(
    "[[layers]]", '[carving]\nfit = "depth"\ndepth = 6\n[[layers]]'
)
THIN = BASE.replace("floor = 8 ", "floor = 4 ")
JAMS = (
    BASE.replace("height = 300", "height = 300\nreveals = { left = 4, top = 2, bottom = 2 }").replace(
        "width = 207", "width = 211"
    )
    + '[hinges]\npivot = "back"\ninward = 60\nforward = -4\n[beside]\nleft = { stands = "case side", forward = 30 }\n'
)


# Three strips are thin in their middle, and a pull makes them thinner.
PULL = (
    BASE.replace("blank = 20", "blank = 22")
    .replace("floor = 8 ", "floor = 3 ")
    .replace("[[layers]]", '[carving]\nfit = "depth"\ndepth = 4 # gentle\n[[layers]]')
    .replace("length = 140", "length = 240")
    + "[[pulls]]\ncentre = [100, 150]\nsize = [60, 50]\ndepth = 16 # fingers\n"
)
# So thin, narrow and long that it breaks in the hand.
WEAK = (
    BASE.replace("floor = 8 ", "floor = 3 ")
    .replace("count = 10 ", "count = 18 ")
    .replace("height = 300", "height = 900")
    + '[fixing]\nby = "glue"\n'
)
INCHES = """
title = "In inches"
unit = "in"
[front]
width = 8
height = 12
[strips]
width = "3/4 in"
gap = "1/8 in"
[wood]
species = "white ash"
blank = "13/16 in"
floor = "3/16 in" # thin
[[layers]]
kind = "waves"
trains = [{ length = "5 1/2 in", direction = 70 }]
"""
# Every kind of trouble that a change of the relief clears.
TROUBLES = {
    "steep": STEEP,
    "standing": STANDING,
    "thin": THIN,
    "jams": JAMS,
    "pull": PULL,
    "weak": WEAK,
    "inches": INCHES,
    "braces": THIN.replace('[wood]\nspecies = "white ash"\nblank = 20\nfloor = 4      # a floor\n', "").replace(
        'title = "A trial"', 'title = "A trial"\nwood = { species = "white ash", blank = 20, floor = 4.50 } # mine'
    ),
}


@pytest.fixture(scope="module")
def eased(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Relaxed]:
    folder = tmp_path_factory.mktemp("eased")
    return {name: relaxed(folder, text, name) for name, text in TROUBLES.items()}


@pytest.mark.parametrize(
    ("text", "check"), [(STEEP, "grain"), (STANDING, "cutter"), (THIN, "thickness"), (JAMS, "swing")]
)
def test_what_stops_a_job_is_cleared_in_the_new_job_file(text: str, check: str, tmp_path: Path) -> None:
    assert check in stopping(text, tmp_path)
    made = relaxed(tmp_path, text)
    assert made.left == ()
    assert made.changes
    assert stopping(made.text, tmp_path) == set()


def test_comments_stay_and_every_change_says_what_was_there(tmp_path: Path) -> None:
    made = relaxed(tmp_path, THIN)
    assert "# ten" in made.text
    assert "# was 4; a floor" in made.text
    assert all(f"# {change}" in made.text for change in made.changes)
    assert tomllib.loads(made.text)["wood"]["floor"] >= 5.0


def test_no_more_is_changed_than_is_needed(tmp_path: Path) -> None:
    """A little less of the same change no longer clears it."""
    made = relaxed(tmp_path, THIN)
    floor = tomllib.loads(made.text)["wood"]["floor"]
    assert stopping(THIN.replace("floor = 4 ", f"floor = {floor - 0.3} "), tmp_path)


def test_how_far_the_surface_moved_is_measured_on_both_fronts(tmp_path: Path) -> None:
    made = relaxed(tmp_path, THIN)
    strip = made.before.strip(made.moved.strip)
    apart = np.abs(made.after.strip(made.moved.strip).heights - strip.heights)
    assert made.moved.most == pytest.approx(float(apart.max()), abs=0.05)
    row = int(np.abs(strip.from_top - made.moved.from_top).argmin())
    assert float(apart[row].max()) == pytest.approx(made.moved.most, abs=0.1)
    assert 0.0 < made.moved.mean <= made.moved.most


def test_no_place_moves_further_than_the_maker_allows(tmp_path: Path) -> None:
    tight = THIN + "[relax]\nmoved = 0.2\n"
    made = relaxed(tmp_path, tight)
    assert made.changes == ()
    assert {one.check for one in made.left} >= {"thickness"}


def test_what_no_change_of_the_relief_clears_is_left_and_named(tmp_path: Path) -> None:
    small = '[opening]\nmounting = "inset"\nwidths = [205, 205, 205]\nheights = [300, 300, 300]\n'
    made = relaxed(tmp_path, BASE + small)
    assert made.changes == ()
    assert {one.check for one in made.left} == {"opening"}


def test_a_job_in_inches_is_relaxed_in_inches(tmp_path: Path) -> None:
    inches = (
        THIN.replace('title = "A trial"', 'title = "A trial"\nunit = "in"')
        .replace("width = 207", 'width = "207 mm"')
        .replace("height = 300", 'height = "300 mm"')
        .replace("gap = 3", 'gap = "3 mm"')
        .replace("blank = 20", 'blank = "20 mm"')
        .replace("floor = 4 ", 'floor = "4 mm" ')
        .replace("length = 140", 'length = "140 mm"')
    )
    made = relaxed(tmp_path, inches)
    assert made.left == ()
    assert not any(" mm" in change for change in made.changes)
    assert min(strip.thinnest.height for strip in made.after.measures()) >= 5.0


def test_only_a_job_from_a_file_can_be_relaxed() -> None:
    from helpers import small_job

    with pytest.raises(ValueError, match="read from a file"):
        relax(small_job())


# What was there, and the figures.


def leaves(settings: Any, place: str = "") -> dict[str, Any]:
    """Return every value of a document by its place."""
    if isinstance(settings, dict):
        pairs = settings.items()
    elif isinstance(settings, list) and any(isinstance(one, dict) for one in settings):
        pairs = ((f"[{index}]", one) for index, one in enumerate(settings))
    else:
        return {place: settings}
    return {key: value for name, one in pairs for key, value in leaves(one, f"{place}.{name}").items()}


def as_typed(value: Any) -> str:
    return str(value.as_string()) if hasattr(value, "as_string") else str(value)


@pytest.mark.parametrize("name", TROUBLES)
def test_beside_every_change_stands_what_the_maker_had_typed(name: str, eased: dict[str, Relaxed]) -> None:
    before, after = tomlkit.parse(TROUBLES[name]), tomlkit.parse(eased[name].text)
    was, now = leaves(before), leaves(after)
    changed = [place for place in was if as_typed(was[place]) != as_typed(now[place])]
    assert set(was) <= set(now)
    for place in changed:
        key = place.rsplit(".", 1)[1]
        lines = [line for line in eased[name].text.splitlines() if re.search(rf"\b{key}\b.*#", line)]
        assert any(re.search(rf"was {re.escape(as_typed(was[place]))}(;|$)", line) for line in lines), (place, lines)
    said = sum(len(re.findall(r"\bwas ", line.partition("#")[2])) for line in eased[name].text.splitlines())
    assert said == len(changed)


@pytest.mark.parametrize("name", TROUBLES)
def test_a_line_that_did_not_change_is_as_the_maker_wrote_it(name: str, eased: dict[str, Relaxed]) -> None:
    kept = [line for line in eased[name].text.splitlines() if not re.search(r"# .*(was|added)", line)]
    changed = [line for line in TROUBLES[name].splitlines() if line not in kept]
    assert len(changed) <= eased[name].text.count("was ")


_LENGTH = re.compile(r"(\d+(?:\.\d+)?(?: \d+/\d+)?(?:/\d+)?) (mm|in)\b")


@pytest.mark.parametrize("name", TROUBLES)
def test_words_carry_the_figures_of_the_file(name: str, eased: dict[str, Relaxed]) -> None:
    """Every length in words stands in the file below its head, as a value or as what was there."""
    made = eased[name]
    unit = made.before.job.unit
    body = made.text.partition("\n\n")[2]
    quoted = {round(read_length(" ".join(one), unit), 6) for one in _LENGTH.findall(body)}
    bare = {round(float(one) * unit.in_mm, 6) for one in re.findall(r"(?<![\w/.])\d+(?:\.\d+)?(?![\w/.])", body)}
    for change in made.changes:
        for one in _LENGTH.findall(change):
            assert round(read_length(" ".join(one), unit), 6) in quoted | bare, (change, one)


@pytest.mark.parametrize("name", TROUBLES)
def test_lengths_are_rounded_to_a_tenth_or_a_256th(name: str, eased: dict[str, Relaxed]) -> None:
    before, after = leaves(tomllib.loads(TROUBLES[name])), leaves(tomllib.loads(eased[name].text))
    unit = eased[name].before.job.unit
    part = 0.1 if unit is Unit.MM else 25.4 / 256
    for place, value in after.items():
        lengths = value if isinstance(value, list) else [value]
        if before.get(place) != value and not re.search(r"stretch|fit|edge|keep|door", place):
            parts = [read_length(one, unit) / part for one in lengths]
            assert parts == pytest.approx([round(one) for one in parts], abs=1e-6), place


# What holds of every relaxed job.


@pytest.mark.parametrize("name", TROUBLES)
def test_a_relaxed_job_is_a_job_that_nothing_stops(name: str, eased: dict[str, Relaxed], tmp_path: Path) -> None:
    assert stopping(TROUBLES[name], tmp_path)
    assert stopping(eased[name].text, tmp_path) == set()
    assert eased[name].left == eased[name].refused == ()


@pytest.mark.parametrize("name", TROUBLES)
def test_no_place_of_a_strip_moves_further_than_is_allowed(name: str, eased: dict[str, Relaxed]) -> None:
    made = eased[name]
    furthest = max(float(np.abs(a.heights - b.heights).max()) for a, b in both(made))
    assert furthest <= made.before.job.relax.moved
    assert made.moved.most == pytest.approx(furthest)


def test_as_far_as_is_allowed_the_surface_may_move(tmp_path: Path) -> None:
    """From the floor to the face, a floor of 5 instead of 4 mm moves the lowest place by 1 mm and no other further."""
    made = relaxed(tmp_path, THIN + "[relax]\nmoved = 1\n")
    assert made.left == ()
    assert made.moved.most == pytest.approx(1.0, abs=1e-3)


def both(made: Relaxed) -> list[tuple[Any, Any]]:
    return list(zip(made.before.strips(), made.after.strips(), strict=True))


@pytest.mark.parametrize(("name", "key"), [("thin", "floor"), ("weak", "floor"), ("inches", "floor")])
def test_a_tenth_less_would_not_do(name: str, key: str, eased: dict[str, Relaxed], tmp_path: Path) -> None:
    document = tomlkit.parse(eased[name].text)
    unit = eased[name].before.job.unit
    part = 0.1 if unit is Unit.MM else 25.4 / 256
    less = read_length(tomllib.loads(eased[name].text)["wood"][key], unit) - part
    document["wood"][key] = f"{less:.4f} mm"  # type: ignore[index]
    assert stopping(tomlkit.dumps(document), tmp_path)


def pulls_of(front: Front) -> list[float]:
    measured = [measure_pull(front, pull) for pull in front.job.pulls]
    return [0.0 if one is None else one.depth for one in measured]


@pytest.mark.parametrize("looks", [False, True])
@pytest.mark.parametrize(
    ("blank", "floor", "depth"), [(22, 3, 16), (21, 3, 12.5), (22, 6.5, 14), (18, 3, 12.5), (22, 3, 9)]
)
def test_no_pull_becomes_too_shallow_for_fingers(
    blank: float, floor: float, depth: float, looks: bool, tmp_path: Path
) -> None:
    text = PULL.replace("blank = 22", f"blank = {blank}").replace("floor = 3 ", f"floor = {floor} ")
    made = relaxed(tmp_path, text.replace("depth = 16", f"depth = {depth}"), looks=looks)
    least = made.before.job.limit("finger_depth").value
    for was, now in zip(pulls_of(made.before), pulls_of(made.after), strict=True):
        assert now >= min(was, least) - MEASURED - 1e-9


def test_a_pull_that_cannot_have_its_depth_is_refused_with_the_wood_that_it_wants(tmp_path: Path) -> None:
    """12 mm for fingers and 6 mm under them are 18 mm; the blank of 18 mm leaves 17.2 mm after sanding."""
    made = relaxed(tmp_path, PULL.replace("blank = 22", "blank = 18"))
    reason = next(one.reason for one in made.refused if one.check == "lands and pulls")
    assert "limits.finger_depth" in reason
    assert "18 mm of wood" in reason
    assert "17.2 mm" in reason


# What is seen.


def dented(folder: Path, dents: list[tuple[int, float]]) -> str:
    """Return a job that is level but for a dent of 4 mm in some strips: by the strip's number, and mm from the top."""
    heights = np.full((401, 420), 8.5)
    x, down = np.arange(420.0)[None, :], np.arange(401.0)[:, None]
    for strip, from_top in dents:
        away = np.hypot((x - 21 * (strip - 1) - 9) / 9, (down - from_top) / 20)
        heights -= np.where(away < 1, 4 * np.cos(np.pi / 2 * np.clip(away, 0, 1)) ** 2, 0)
    data = io.BytesIO()
    np.save(data, heights)
    (folder / "dents.npy").write_bytes(data.getvalue())
    return """
title = "Dents"
[front]
width = 417
height = 400
[strips]
count = 20
gap = 3
[wood]
species = "white ash"
blank = 20
floor = 3
[carving]
fit = "as given"
[[layers]]
kind = "grid"
file = "dents.npy"
rise = "1 mm"
[cutter]
shape = "ball"
radius = 3
[limits]
slope_most = 60
"""


def added_lands(made: Relaxed) -> int:
    return len(tomllib.loads(made.text).get("lands", ())) - len(made.before.job.lands)


@pytest.mark.parametrize(
    "dents",
    [
        [(strip, 30 + 97 * strip % 340) for strip in range(1, 21)],
        [(7, 40 + 60 * number) for number in range(6)],
        [(strip, 200 + strip % 3) for strip in range(4, 16)],
    ],
    ids=["all over", "along one strip", "side by side"],
)
def test_few_lands_where_a_floor_or_a_bar_does_it(dents: list[tuple[int, float]], tmp_path: Path) -> None:
    text = dented(tmp_path, dents)
    assert "thickness" in stopping(text, tmp_path)
    made = relaxed(tmp_path, text)
    assert made.left == ()
    assert added_lands(made) <= 3


@pytest.mark.parametrize(
    "dents", [[(7, 40 + 60 * number) for number in range(6)], [(strip, 200) for strip in range(4, 16)]]
)
def test_lands_of_one_strip_or_of_neighbours_are_one_bar(dents: list[tuple[int, float]], tmp_path: Path) -> None:
    (tmp_path / "dented.toml").write_text(dented(tmp_path, dents), encoding="utf-8")
    front = build_front(read_job(tmp_path / "dented.toml"))
    bars = [Bar(strip, strip, 400 - from_top - 20, 400 - from_top + 20) for strip, from_top in dents]
    whole = merged(front, bars)
    assert len(whole) == 1
    assert (whole[0].first, whole[0].last) == (dents[0][0], dents[-1][0])
    assert whole[0].top == max(bar.top for bar in bars)
    assert whole[0].bottom == min(bar.bottom for bar in bars)


def test_bars_far_apart_stay_apart(tmp_path: Path) -> None:
    (tmp_path / "dented.toml").write_text(dented(tmp_path, [(1, 50)]), encoding="utf-8")
    front = build_front(read_job(tmp_path / "dented.toml"))
    bars = [Bar(1, 1, 0, 20), Bar(1, 1, 300, 320), Bar(3, 3, 0, 20)]
    assert set(merged(front, bars)) == set(bars)


@pytest.fixture(scope="module")
def places(tmp_path_factory: pytest.TempPathFactory) -> tuple[Places, np.ndarray, np.ndarray, np.ndarray]:
    """Return places of a front, their x and y, and the heights of waves 120 mm long and 3 mm high there."""
    folder = tmp_path_factory.mktemp("seen")
    (folder / "seen.toml").write_text(BASE, encoding="utf-8")
    front = build_front(read_job(folder / "seen.toml"))
    strips = front.layout.strips
    x = np.array([np.linspace(strip.left, strip.right, 5) for strip in strips])[None, :, :]
    y = np.linspace(strips[0].bottom, strips[0].top, 200)[:, None, None]
    return Places(front.layout), x, y, 10 + 3 * np.sin(2 * np.pi * y / 120) + 0 * x


def test_what_is_only_paler_is_no_other_shape(places: tuple[Places, np.ndarray, np.ndarray, np.ndarray]) -> None:
    """Nine tenths of the depth: no other shape anywhere, and a tenth of its root mean square slope, 3 * 2 pi / 120 / sqrt 2."""
    where, _, _, waves = places
    seen = where.seen(waves, 2 + 0.9 * waves)
    assert seen.other == pytest.approx(0.0, abs=1e-6)
    assert seen.places == 0
    assert seen.paler == pytest.approx(np.degrees(0.1 * 3 * 2 * np.pi / 120 / np.sqrt(2)), rel=0.05)


def test_a_narrow_bump_is_seen_more_than_a_broad_one(places: tuple[Places, np.ndarray, np.ndarray, np.ndarray]) -> None:
    where, x, y, waves = places
    away = np.hypot(x - 100, y - 150)
    narrow, broad = (waves + 2 * np.exp(-((away / size) ** 2)) for size in (15, 60))
    assert np.abs(narrow - waves).mean() < np.abs(broad - waves).mean()
    area = (15 / 60) ** 2
    assert where.seen(waves, narrow).other ** 2 / area > where.seen(waves, broad).other ** 2
    assert where.seen(waves, narrow).places == 1


def test_every_separate_place_counts(places: tuple[Places, np.ndarray, np.ndarray, np.ndarray]) -> None:
    where, x, y, waves = places
    spots = [np.exp(-(((x - 50) / 12) ** 2) - ((y - middle) / 12) ** 2) for middle in (40, 110, 180, 250)]
    few, many = where.seen(waves, waves + spots[0]), where.seen(waves, waves + sum(spots))
    assert (few.places, many.places) == (1, 4)
    assert many.weight > few.weight


# What is to be looked at.


@pytest.mark.parametrize("name", ["thin", "standing", "pull", "inches"])
def test_what_is_to_be_looked_at_is_cleared_on_request_or_named(name: str, tmp_path: Path) -> None:
    made = relaxed(tmp_path, TROUBLES[name], looks=True)
    again = check_front(made.after)
    assert [one.sentence for one in again if one.stops] == []
    for one in again:
        if one.weight is Weight.LOOK:
            assert made.why(one), one.sentence
    assert len([one for one in again if one.weight is Weight.LOOK]) == len(made.left)


def test_without_asking_what_is_to_be_looked_at_is_left(tmp_path: Path) -> None:
    """A floor of 6 mm stops nothing, and is thin for screws: less than 8 mm (rule of thumb)."""
    text = THIN.replace("floor = 4 ", "floor = 6 ")
    assert relaxed(tmp_path, text).changes == ()
    made = relaxed(tmp_path, text, looks=True)
    assert not any(one.check == "thickness" and one.weight is Weight.LOOK for one in check_front(made.after))
    assert min(float(strip.heights.min()) for strip in made.after.strips()) >= 8.0 - 1e-6


# Why not.


BOUND = {
    "moved": (THIN + "[relax]\nmoved = 0.2\n", "thickness"),
    "depth": (STEEP + "[relax]\nstretch = 1\ndepth = 0.99\nmoved = 100\n", "grain"),
    "caps": (JAMS + "[relax]\ncaps = false\ndepth = 0.95\n", "swing"),
    "fit": (STANDING + "[relax]\nfit = false\ndepth = 1\nstretch = 1\n", "cutter"),
    "stretch": (STEEP + "[relax]\nstretch = 1.05\ndepth = 1\nmoved = 100\n", "grain"),
}


@pytest.mark.parametrize("bound", BOUND)
def test_a_refusal_names_the_bound_and_the_value_that_clears_it(bound: str, tmp_path: Path) -> None:
    """Typed into [relax], what the refusal says lets that finding be cleared."""
    text, check = BOUND[bound]
    assert check in stopping(text, tmp_path)
    made = relaxed(tmp_path, text)
    reasons = [one.reason for one in made.refused if one.check == check]
    assert reasons
    needs = dict(re.findall(r"relax\.(\w+) = (\S+)", reasons[0]))
    assert needs, reasons
    document = tomlkit.parse(text)
    for key, value in needs.items():
        document["relax"][key] = tomllib.loads(f"v = {value}")["v"]  # type: ignore[index]
    assert check not in {one.check for one in relaxed(tmp_path, tomlkit.dumps(document), "again").left}


@pytest.mark.parametrize("bound", BOUND)
def test_the_value_that_is_named_is_beyond_what_the_job_allows(bound: str, tmp_path: Path) -> None:
    text, check = BOUND[bound]
    made, allowed = relaxed(tmp_path, text), read_job(tmp_path / "trial.toml").relax
    reason = next(one.reason for one in made.refused if one.check == check)
    for key, value in re.findall(r"relax\.(\w+) = (\S+)", reason):
        now, needed = getattr(allowed, key), tomllib.loads(f"v = {value}")["v"]
        assert needed < now if key == "depth" else needed > now


def test_what_no_relief_can_clear_says_so(tmp_path: Path) -> None:
    small = '[opening]\nmounting = "inset"\nwidths = [205, 205, 205]\nheights = [300, 300, 300]\n'
    made = relaxed(tmp_path, BASE + small)
    assert {one.check: one.reason for one in made.refused} == {"opening": "no change of the relief can clear it."}


def test_every_finding_that_is_left_has_its_reason(eased: dict[str, Relaxed], tmp_path: Path) -> None:
    made = relaxed(tmp_path, dented(tmp_path, [(3, 100)]) + "[relax]\nmoved = 0.1\n", looks=True)
    assert made.left
    assert all(made.why(one) for one in made.left)


def test_moves_are_named_for_checks_that_there_are() -> None:
    from facade.checks import CHECKS

    assert set(MOVES) <= set(CHECKS)


# On the screen.


def test_the_screen_says_what_was_changed_and_what_stood_in_the_way(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "doors.toml"
    path.write_text(THIN + "[relax]\nmoved = 0.2\n", encoding="utf-8")
    assert main(["relax", str(path)]) == 1
    shown = " ".join(capsys.readouterr().out.split())
    assert "What stood in the way: - thickness: a higher floor would clear it, but it needs relax.moved = " in shown
    path.write_text(THIN, encoding="utf-8")
    assert main(["relax", str(path)]) == 0
    shown = capsys.readouterr().out
    assert "Floor at 5 mm instead of 4 mm" in shown
    assert "Nothing that was checked stops it now." in shown
    assert main(["relax", str(path), str(tmp_path / "looked-at.toml"), "--looks"]) == 0
    assert tomllib.loads((tmp_path / "looked-at.toml").read_text("utf-8"))["wood"]["floor"] >= 8
