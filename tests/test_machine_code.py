"""Machine code: its words against the standard, its text against readers that are not ours, its times against mechanics."""

from __future__ import annotations

import csv
import io
import math
import re
import warnings
from collections.abc import Iterator

import numpy as np
import pytest
from gcodeparser import parse_gcode_lines
from helpers import a_job, refusal, small_front

from facade.cnc.code import LONGEST_LINE, comment, machine_code, number
from facade.cnc.cutting import chip_load, cutting_speed, effective_diameter
from facade.cnc.duration import move_times, total_time
from facade.cnc.face import face_files
from facade.cnc.finishing import near_height
from facade.cnc.fixture import fixtures
from facade.cnc.machining import Stage, code_file, program, written
from facade.cnc.moves import Kind, Moves
from facade.cnc.order import Order, Route
from facade.errors import FacadeError, JobError
from facade.front import Front
from facade.job import Machine, Speeds, Words
from facade.lengths import Unit

FACE = Order(Route.FACE)
SPEEDS = Speeds(18000, 3000, 800)
# NISTIR 6556, table 4: modal groups of the words used here.
GROUPS = {
    "G0": 1,
    "G1": 1,
    "G80": 1,
    "G17": 2,
    "G90": 3,
    "G94": 5,
    "G20": 6,
    "G21": 6,
    "G40": 7,
    "G49": 8,
    "G54": 12,
    "G4": 0,
}
# NISTIR 6556, 3.3.2.1: optional sign, digits with at most one point, no exponent.
NUMBER = r"[-+]?(?:\d+\.?\d*|\.\d+)"
LINE = re.compile(rf"(?:N\d{{1,5}} )?(?:\([^()]*\)|(?:[A-Z]{NUMBER})(?: [A-Z]{NUMBER})*)")


def code_files(front: Front, order: Order) -> Iterator[tuple[str, bytes, str]]:
    for fixture in fixtures(front, order):
        yield from (code_file(written(fixture, stage, cleared=order.cleared)) for stage in Stage)


def texts(**changes) -> dict[str, str]:
    """Return the files of machine code of a small front."""
    front = small_front(**changes)
    return {name: data.decode("ascii") for name, data, _ in code_files(front, FACE) if name.endswith(".ngc")}


@pytest.fixture(scope="module", params=["mm", "in", "numbered"])
def files(request: pytest.FixtureRequest) -> dict[str, str]:
    changes = {
        "mm": {},
        "in": {
            "unit": "in",
            "front": {"width": 8, "height": 5},
            "wood": {"species": "white ash", "blank": 0.8, "floor": 0.3},
            "layers": [{"kind": "hills", "size": 2.5}],
        },
        "numbered": {"machine": {"words": "iso6983"}},
    }
    return texts(**changes[request.param])


def words(line: str) -> list[str]:
    return [word for word in re.sub(r"\([^()]*\)", "", line).split() if not word.startswith("N")]


def test_no_line_is_longer_than_the_standard_allows(files: dict[str, str]) -> None:
    """NISTIR 6556, 3.3: 256 characters."""
    assert max(len(line) for text in files.values() for line in text.splitlines()) <= LONGEST_LINE == 256


def test_every_line_is_one_of_the_standard_s(files: dict[str, str]) -> None:
    """NISTIR 6556, 3.3: a comment that closes on its line, or words with plain numbers; a % line at both ends or at neither."""
    for text in files.values():
        lines = text.splitlines()
        assert (lines[0] == "%") == (lines[-1] == "%")
        assert all(LINE.fullmatch(line) for line in lines if line != "%")


def test_no_line_has_two_words_of_a_modal_group(files: dict[str, str]) -> None:
    """NISTIR 6556, 3.3.5 and table 4; other letters at most once."""
    for text in files.values():
        for line in {
            re.sub(r"[\d.-]+", "1", one) if one.startswith(("G1 ", "G0 ")) else one for one in text.splitlines()
        }:
            found = words(line)
            groups = [GROUPS[word] for word in found if word[0] == "G" and word in GROUPS]
            letters = [word[0] for word in found if word[0] not in "GM"]
            assert len(groups) == len(set(groups))
            assert len(letters) == len(set(letters))


def test_modes_are_set_before_the_first_move(files: dict[str, str]) -> None:
    for text in files.values():
        before = text[: re.search(r"^(?:N\d+ )?G0 ", text, re.MULTILINE).start()]
        said = {word for line in before.splitlines() for word in words(line)}
        assert {"G17", "G90", "G94", "G40", "G49", "G80", "G54"} < said
        assert len({"G20", "G21"} & said) == 1
        assert not {"G20", "G21"} & {word for line in text[len(before) :].splitlines() for word in words(line)}


def test_the_spindle_turns_before_the_first_cut_and_stops_at_the_end(files: dict[str, str]) -> None:
    for text in files.values():
        bare = [" ".join(words(line)) for line in text.splitlines() if words(line) and line != "%"]
        first_cut = next(index for index, line in enumerate(bare) if line.startswith("G1"))
        assert any(re.fullmatch(r"S\d+ M3", line) for line in bare[:first_cut])
        assert bare[-2:] in (["M5", "M2"], ["M5", "M30"])


def test_the_first_cut_has_a_feed(files: dict[str, str]) -> None:
    """NISTIR 6556, 3.5.2 and 3.5.20: under G94 the feed is in units a minute, and must be set."""
    for text in files.values():
        first = next(line for line in text.splitlines() if " ".join(words(line)).startswith("G1"))
        assert re.search(r"F[\d.]+", first)


@pytest.mark.parametrize("key", ["mm", "in"])
def test_another_reader_takes_every_line(key: str) -> None:
    """pygcode, from the registries, knows words, modal groups and moves."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import pygcode
    unit = {
        "unit": "in",
        "front": {"width": 4, "height": 2},
        "strips": {"count": 4},
        "wood": {"species": "white ash", "blank": 0.8, "floor": 0.3},
        "layers": [{"kind": "hills", "size": 2.5}],
    }
    for name, text in texts(
        **(unit if key == "in" else {"front": {"width": 100, "height": 60}, "strips": {"count": 4}})
    ).items():
        machine = pygcode.Machine()
        for line in text.splitlines():
            read = pygcode.Line(line)
            machine.process_block(read.block)
        fixture_high = 30.0 if key == "mm" else 30.0 / 25.4
        assert pytest.approx(fixture_high, abs=0.5) == machine.pos.Z, name


def test_what_is_read_back_is_the_way_that_was_planned() -> None:
    fixture = fixtures(small_front(), FACE)[0]
    one = program(fixture, Stage.FINISH)
    text = machine_code(one.moves, [], unit=Unit.MM, words=Words.RS274, speeds=Speeds(18000, 3000, 800))
    place, places = {"X": math.nan, "Y": math.nan, "Z": math.nan}, []
    for line in parse_gcode_lines(text):
        if line.command in (("G", 0), ("G", 1)):
            place.update({axis: value for axis, value in line.params.items() if axis in "XYZ"})
            places.append(list(place.values()))
    read = np.array(places)[1:]
    planned = one.moves.places
    different = np.r_[True, (np.diff(np.rint(planned * 1000), axis=0) != 0).any(axis=1)]
    assert np.abs(read - planned[different]).max() <= 0.0005 + 1e-9


def test_rapids_stay_above_the_blanks() -> None:
    fixture = fixtures(small_front(), FACE)[0]
    for stage in Stage:
        moves = program(fixture, stage).moves
        rapid = moves.kinds[1:] == Kind.RAPID
        lowest = np.minimum(moves.places[:-1, 2], moves.places[1:, 2])[rapid]
        # What rises from a cut rises straight up; whatever moves sideways is above.
        aside = np.hypot(*np.diff(moves.places, axis=0)[rapid, :2].T) > 1e-9
        assert lowest[aside].min() > fixture.blank
        down = np.diff(moves.places[:, 2])[rapid] < 0
        assert moves.places[1:, 2][rapid][down].min() >= near_height(fixture) - 1e-9


def test_the_finishing_cut_comes_in_from_outside_the_wood() -> None:
    front = small_front()
    fixture = fixtures(front, FACE)[0]
    moves = program(fixture, Stage.FINISH).moves
    entries = moves.places[moves.kinds == Kind.PLUNGE] - [*front.job.first_strip, 0.0]
    radius, waste = front.job.machine.finishing.radius, fixture.waste
    assert ((entries[:, 1] < -waste - radius) | (entries[:, 1] > fixture.length + waste + radius)).all()


def test_the_extent_stays_over_the_fixture() -> None:
    front = small_front()
    fixture = fixtures(front, FACE)[0]
    for stage in Stage:
        low, high = program(fixture, stage).moves.extent - [*front.job.first_strip, 0.0]
        assert low[2] >= fixture.low
        assert high[2] <= near_height(fixture) + 1e-9
        assert low[1] >= -fixture.waste - 2 * front.job.machine.finishing.radius
        assert low[0] >= -front.job.machine.finishing.radius
        assert high[0] <= fixture.width + front.job.machine.finishing.radius


def test_the_head_says_what_must_be_known(files: dict[str, str]) -> None:
    for text in files.values():
        head = "\n".join(line for line in text.splitlines() if "(" in line)
        for said in (
            "mark ",
            "Zero:",
            "Stock:",
            "Cutter:",
            "Extent",
            "Time:",
            "Run it in the air first",
            "dust protection",
            "Chip load",
        ):
            assert said in head
        if "G20" in text:
            assert not re.search(r"\d mm", head.replace("mm/s2", ""))


def test_files_of_a_front_that_the_checks_stop_say_so() -> None:
    front = small_front()
    for name, data, _ in code_files(front, Order(Route.FACE, cleared=False)):
        assert data.startswith(b"(NOT CLEARED"), name


def test_the_table_of_times_adds_up() -> None:
    front = small_front()
    data = next(data for name, data, _ in face_files(front, FACE) if name.endswith(".csv"))
    *rows, last = list(csv.DictReader(io.StringIO(data.decode())))
    assert sum(float(row["minutes"]) for row in rows) == pytest.approx(float(last["minutes"]), abs=0.051 * len(rows))


def test_a_comment_holds_no_brackets_and_no_strange_letters() -> None:
    assert comment("Esche (weiß);\n%") == "(Esche [wei?], %)"
    with pytest.raises(FacadeError):
        comment("x" * 260)


@pytest.mark.parametrize("value", [1e-7, -1e-7, 0.0, 123.4567891, -1234.5])
def test_numbers_have_no_exponent_and_no_minus_before_zero(value: float) -> None:
    for unit in Unit:
        text = number(value, unit)
        assert re.fullmatch(r"(?!-0\.0+$)-?\d+\.\d+", text)
        assert float(text) * unit.in_mm == pytest.approx(value, abs=0.0006)


def test_chip_load() -> None:
    """Standard milling formula: 3000 mm/min at 18,000 turns with 2 edges is 0.08333 mm."""
    assert chip_load(3000, 18000, 2) == pytest.approx(0.083333, abs=1e-6)


def test_effective_diameter() -> None:
    """2 sqrt(a (D - a)): a ball of 0.500 in at 0.125 in cuts 0.433 in wide; 6 mm at 0.5 mm 3.31662 mm; at R its whole diameter."""
    assert effective_diameter(0.5, 0.125) == pytest.approx(0.433, abs=5e-4)
    assert effective_diameter(6.0, 0.5) == pytest.approx(3.31662, abs=1e-5)
    assert effective_diameter(6.0, 3.0) == effective_diameter(6.0, 5.0) == pytest.approx(6.0)


def test_cutting_speed() -> None:
    """pi D n / 1000: 6 mm at 18,000 turns is 339.29 m/min."""
    assert cutting_speed(6.0, 18000) == pytest.approx(339.29, abs=0.005)


def way(*places: tuple[float, float, float]) -> Moves:
    return Moves(np.array(places), np.full(len(places), Kind.CUT, dtype=np.uint8))


def test_a_long_straight_move_speeds_up_goes_on_and_slows_down() -> None:
    """Uniform acceleration: t = d / v + v / a."""
    machine = Machine(acceleration=400.0)
    speed = 3000 / 60
    assert total_time(way((0, 0, 0), (0, 500, 0)), machine, SPEEDS) == pytest.approx(
        500 / speed + speed / 400, rel=1e-9
    )


def test_a_short_move_never_reaches_its_speed() -> None:
    """Uniform acceleration: t = 2 sqrt(d / a)."""
    assert total_time(way((0, 0, 0), (0, 1, 0)), Machine(acceleration=400.0), SPEEDS) == pytest.approx(
        2 * math.sqrt(1 / 400), rel=1e-9
    )


def test_a_straight_line_in_many_moves_takes_as_long_as_in_one() -> None:
    many = way(*((0.0, float(y), 0.0) for y in np.linspace(0, 300, 601)))
    one = way((0, 0, 0), (0, 300, 0))
    assert total_time(many, Machine(), SPEEDS) == pytest.approx(total_time(one, Machine(), SPEEDS), rel=1e-6)


def test_turning_back_means_standing_still() -> None:
    there = total_time(way((0, 0, 0), (0, 100, 0)), Machine(), SPEEDS)
    assert total_time(way((0, 0, 0), (0, 100, 0), (0, 0, 0)), Machine(), SPEEDS) == pytest.approx(2 * there, rel=1e-6)


def test_no_move_is_quicker_than_its_feed_allows() -> None:
    moves = program(fixtures(small_front(), FACE)[0], Stage.FINISH).moves
    machine = Machine()
    times = move_times(moves, machine, Speeds(18000, 3000, 1000))
    speeds = np.array([machine.rapid, 1000, 3000])[moves.kinds[1:]] / 60
    assert (times >= moves.lengths / speeds - 1e-9).all()


@pytest.mark.parametrize(
    ("machine", "said"),
    [
        ({"finishing": {"spindle": 0}}, "machine.finishing.spindle"),
        ({"roughing": {"feed": -3}}, "machine.roughing.feed"),
        ({"words": "heidi"}, "machine.words"),
        ({"finishing": {"step": 0}}, "machine.finishing.step"),
        ({"finishing": {"scallop": 0}}, "machine.finishing.scallop"),
    ],
)
def test_settings_that_cannot_be_are_refused(machine: dict, said: str) -> None:
    assert f"`{said}`" in refusal(a_job(machine=machine))


@pytest.mark.parametrize(
    ("machine", "field"),
    [
        ({"finishing": {"step": 9}}, "machine.finishing.step"),
        ({"roughing": {"step": 9}}, "machine.roughing.step"),
        ({"bed": [300, 400], "strips": 8}, "machine.strips"),
        ({"bed": [300, 100]}, "machine.bed"),
        ({"bed": [5, 400]}, "machine.bed"),
    ],
)
def test_cutters_and_beds_that_do_not_fit_are_refused(machine: dict, field: str) -> None:
    with pytest.raises(JobError) as caught:
        list(code_files(small_front(machine=machine), FACE))
    assert caught.value.mistakes[0].field == field


def test_a_strip_that_is_not_there_is_refused() -> None:
    with pytest.raises(JobError, match="strip 99"):
        fixtures(small_front(), Order(Route.FACE, (99,)))


def test_strips_lie_on_fixtures_as_on_their_doors() -> None:
    front = small_front(front={"width": 900, "height": 120, "doors": 2}, strips={"count": 40})
    found = fixtures(front, FACE)
    assert [number for one in found for number in one.numbers] == list(range(1, 41))
    assert all(8 <= len(one.numbers) <= 12 for one in found)
    for one in found:
        on_front = np.array([place.left for place in one.places])
        assert one.lefts - one.lefts[0] == pytest.approx(on_front - on_front[0], abs=1e-9)


def test_names_sort_as_the_strips_hang() -> None:
    front = small_front(front={"width": 900, "height": 120, "doors": 2}, strips={"count": 40})
    names = [one.name for one in fixtures(front, FACE)]
    assert names == sorted(names)


INCHES = {
    "unit": "in",
    "front": {"width": 8, "height": 5},
    "wood": {"species": "white ash", "blank": 0.8, "floor": 0.3},
    "layers": [{"kind": "hills", "size": 2.5}],
}


@pytest.mark.parametrize(
    ("said", "unit", "mm"),
    [
        (3000, "mm", 3000.0),
        (120, "in", 3048.0),
        ("3000 mm/min", "in", 3000.0),
        ("120 in/min", "mm", 3048.0),
        ("120in / min", "mm", 3048.0),
        ("2400", "mm", 2400.0),
    ],
)
def test_a_bare_feed_is_in_the_unit_of_the_job_and_a_text_may_name_its_own(said: object, unit: str, mm: float) -> None:
    """1 in is 25.4 mm exactly."""
    job = a_job(**(INCHES if unit == "in" else {}), machine={"finishing": {"feed": said}, "rapid": said})
    front = small_front(**(INCHES if unit == "in" else {}), machine={"finishing": {"feed": said}, "rapid": said})
    assert job["machine"]["rapid"] == said
    assert front.job.machine.finishing.speeds.feed == pytest.approx(mm)
    assert front.job.machine.rapid == pytest.approx(mm)


@pytest.mark.parametrize("said", ["3000 mm", "3000 mm/s", "fast", "-3 mm/min", "1e9", 1e9, True, [3000], "0 in/min"])
def test_a_feed_that_is_none_is_refused_with_its_cure(said: object) -> None:
    sentence = refusal(a_job(machine={"finishing": {"feed": said}}))
    assert "`machine.finishing.feed` must be a feed of more than 0 and at most 100000 mm/min" in sentence
    assert '"120 in/min"' in sentence


@pytest.mark.parametrize(("changes", "unit", "word", "name"), [({}, "in", "G20", "inch"), (INCHES, "mm", "G21", "mm")])
def test_files_are_in_the_unit_that_the_machine_is_said_to_take(changes: dict, unit: str, word: str, name: str) -> None:
    """The same cuts in both units: the same places, feeds and turns."""
    both = [texts(**changes), texts(**changes, machine={"unit": unit})]
    assert all(file.endswith(f"_{name}.ngc") for file in both[1])
    for one, other in zip(*(sorted(some.items()) for some in both), strict=True):
        assert word in other[1]
        assert word not in one[1]
        scale = 25.4 if word == "G20" else 1 / 25.4
        for letter, near in (("X", 0.002), ("Y", 0.002), ("Z", 0.002), ("F", 3.0), ("S", 0.0)):
            ours, theirs = (
                np.array(re.findall(rf"(?m)^(?=[GSNM])[^(\n]*?\b{letter}(-?[\d.]+)", text), dtype=float)
                for text in (one[1], other[1])
            )
            factor, allowed = (1.0, 0.0) if letter == "S" else (scale, near if word == "G20" else near / 25.4)
            found, wanted = ([some.min(), some.max()] for some in (theirs * factor, ours))
            assert found == pytest.approx(wanted, abs=allowed + 1e-9)


def test_programs_begin_at_the_corner_of_the_spoilboard() -> None:
    """All the cutter does lies within the spoilboard, whose lower left corner is zero."""
    front = small_front(machine={"first_strip": [130, 70]})
    nearer = small_front()
    for ours, theirs in zip(
        *(program(fixtures(some, FACE)[0], Stage.FINISH).moves.extent for some in (front, nearer)), strict=True
    ):
        assert ours - theirs == pytest.approx([50.0, 20.0, 0.0])
    assert nearer.job.first_strip == (80.0, 50.0)
