"""Options: what is varied, that all shown can be made, the most different first, and one of them as a job file."""

from __future__ import annotations

import io
import itertools
import json
import re
import tomllib
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from PIL import Image
from test_build import JOB, contents
from test_cli import run

from facade.checks import check_front
from facade.errors import FacadeError
from facade.front import build_front
from facade.job import Job, read_job
from facade.job.places import put
from facade.lengths import Unit
from facade.options import Options, axes_of, explore, notes_of, options_page, options_sheet
from facade.options.choosing import most_different
from facade.options.space import Axis, default_axes, points, read_axis
from facade.options.telling import figure_lines, wood_text

WAVES = JOB.replace('kind = "hills"\nsize = 160', 'kind = "waves"\ntrains = [{ length = 120, direction = 20 }]')
THIN = JOB.replace("floor = 8", "floor = 3")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "small.toml"
    path.write_text(JOB)
    return path


def job_of(folder: Path, text: str = JOB) -> Job:
    path = folder / "job.toml"
    path.write_text(text)
    return read_job(path)


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Options:
    job = job_of(tmp_path_factory.mktemp("options"))
    return explore(job, axes_of(job, []), count=10, shown=4)


# What is varied


@pytest.mark.parametrize(
    ("said", "values"),
    [
        ("strips.count=6,8", (6, 8)),
        ("wood.species=white ash,black walnut", ("white ash", "black walnut")),
        ("carving.depth=4,5 mm,1/4 in", (4, 5, 6.35)),
        ("layers[1].amount=0.5,1", (0.5, 1)),
    ],
)
def test_values_are_read_as_a_job_has_them(said: str, values: tuple, tmp_path: Path) -> None:
    assert read_axis(said, tomllib.loads(JOB), Unit.MM).values == values


def test_a_range_of_lengths_is_in_the_unit_of_the_job() -> None:
    axis = read_axis("layers[1].size=2..4", tomllib.loads(JOB), Unit.INCH)
    assert (axis.low, axis.high) == pytest.approx((50.8, 101.6))
    assert 2.0 <= float(axis.at(0.3, Unit.INCH)) <= 4.0


@pytest.mark.parametrize("share", np.linspace(0.0, 0.999, 12))
def test_whole_numbers_stay_whole_and_within(share: float) -> None:
    value = read_axis("layers[1].seed=3..7", tomllib.loads(JOB), Unit.MM).at(share, Unit.MM)
    assert isinstance(value, int)
    assert 3 <= value <= 7


def test_every_whole_number_of_a_range_comes_as_often() -> None:
    axis = Axis(("layers", 0, "seed"), low=1, high=4, whole=True)
    counts = np.bincount([int(axis.at(share, Unit.MM)) for share in (np.arange(400) + 0.5) / 400])
    assert counts.tolist() == [0, 100, 100, 100, 100]


@pytest.mark.parametrize(
    "said",
    [
        "size",
        "layers[1].size",
        "layers[1].sise=3,4",
        "layers[7].seed=3",
        "strips=4",
        "layers[1].seed=1.5,2",
        "layers[1].size=9..3",
        "nothing=3",
    ],
)
def test_what_cannot_be_varied_is_refused_in_one_sentence(
    said: str, path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = contents(path.parent)
    assert run("options", path, "--vary", said, "--out", path.parent / "sheet") == 2
    error = capsys.readouterr().err
    assert "`--vary" in error
    assert len(error.strip().splitlines()) == 1
    assert contents(path.parent) == before


def test_lists_of_values_are_tried_in_all_combinations() -> None:
    settings = tomllib.loads(JOB)
    axes = [read_axis(one, settings, Unit.MM) for one in ("strips.count=6,8", "layers[1].seed=1,2,3")]
    tried = points(axes, 24, 1, Unit.MM)
    assert sorted(tuple(value for _, value in point) for point in tried) == list(itertools.product((6, 8), (1, 2, 3)))


def test_a_sample_fills_its_space_evenly_and_is_the_same_for_the_same_seed() -> None:
    """Of 16 points of a Sobol sequence each 16th of every side holds one (I. M. Sobol, 1967)."""
    axes = [Axis(("a",), low=0.0, high=16_000.0), Axis(("b",), low=0.0, high=16_000.0)]
    tried = points(axes, 16, 3, Unit.MM)
    for side in range(2):
        assert sorted(int(float(point[side][1]) // 1000) for point in tried) == list(range(16))
    assert points(axes, 16, 3, Unit.MM) == tried
    assert points(axes, 16, 4, Unit.MM) != tried


def test_where_nothing_is_said_the_relief_is_varied(tmp_path: Path) -> None:
    for text, wanted in ((JOB, {"seed", "size"}), (WAVES, {"length", "direction"})):
        job = job_of(tmp_path, text)
        assert {axis.path[-1] for axis in default_axes(job, tomllib.loads(text))} == wanted


def test_another_kind_of_relief_takes_the_settings_of_its_example() -> None:
    settings = tomllib.loads(JOB.replace('kind = "hills"', 'kind = "hills"\namount = 0.7'))
    put(settings, [(("layers", 0, "kind"), "swell")])
    (layer,) = settings["layers"]
    assert layer["kind"] == "swell"
    assert layer["amount"] == 0.7
    assert "octaves" not in layer


# Choosing


def test_the_most_different_are_the_ends_before_the_middle() -> None:
    shapes = [np.array([place]) for place in (0.0, 1.0, 2.0, 3.0, 10.0, 4.9)]
    assert most_different(shapes, 3) == [0, 4, 5]


def test_farthest_points_are_at_least_half_as_far_apart_as_can_be() -> None:
    """T. F. Gonzalez, 1985: the least distance is at least half of that of the best choice, here found by trying all."""
    shapes = list(np.random.default_rng(5).random((11, 3)))

    def least(chosen: tuple[int, ...]) -> float:
        return min(
            float(np.linalg.norm(shapes[one] - shapes[other])) for one, other in itertools.combinations(chosen, 2)
        )

    best = max(least(chosen) for chosen in itertools.combinations(range(11), 4))
    assert least(tuple(most_different(shapes, 4))) >= best / 2


def test_the_same_shape_is_not_shown_twice() -> None:
    assert most_different([np.zeros(3), np.ones(3), np.zeros(3)], 3) == [0, 1]


# What is shown


def test_the_first_option_is_the_job_as_it_stands(found: Options) -> None:
    assert found.options[0].point == ()
    assert found.options[0].front.mark == build_front(found.job).mark


def test_all_that_is_shown_passes_the_checks_as_the_check_does(found: Options) -> None:
    assert len(found.options) == 4
    for option in found.options:
        settings = tomllib.loads(JOB)
        put(settings, option.point)
        front = option.front
        findings = check_front(front)
        assert not any(finding.stops for finding in findings)
        assert option.shown.tried.looks == sum(finding.weight == "look at" for finding in findings)
        heights = np.concatenate([strip.heights.ravel() for strip in front.strips()])
        figures = option.shown.tried.figures
        assert figures is not None
        assert figures.thinnest == pytest.approx(heights.min())
        assert figures.depth == pytest.approx(np.ptp(heights))


def test_what_cannot_be_made_is_left_out_or_marked(tmp_path: Path) -> None:
    job = job_of(tmp_path)
    axes = axes_of(job, ["wood.floor=3,8,9"])
    sifted = explore(job, axes, shown=4)
    assert sifted.unmade == 1
    assert all(not option.shown.tried.stops for option in sifted.options)
    everything = explore(job, axes, shown=4, everything=True)
    assert any(option.shown.tried.stops for option in everything.options)
    assert "CANNOT BE MADE" in options_page(everything).decode()


def test_variants_that_are_no_jobs_are_counted_not_shown(tmp_path: Path) -> None:
    job = job_of(tmp_path)
    found = explore(job, axes_of(job, ["wood.floor=8,19.9,9"]), shown=4, everything=True)
    assert found.unmade == 1
    assert len(found.options) == 3 or len(found.options) == 2


def test_same_seed_same_sheet_and_a_cluster_gives_the_same_bytes(tmp_path: Path) -> None:
    from distributed import Client, LocalCluster

    job = job_of(tmp_path)
    axes = axes_of(job, [])
    here, again = (explore(job, axes, count=4, shown=3) for _ in range(2))
    with (
        LocalCluster(n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None) as cluster,
        Client(cluster) as client,
    ):
        there = explore(job, axes, count=4, shown=3, executor=client.get_executor())
    assert notes_of(here) == notes_of(again) == notes_of(there)
    assert options_page(here) == options_page(again) == options_page(there)
    assert options_sheet(here) == options_sheet(there)
    assert notes_of(explore(job, axes, count=4, shown=3, seed=2)) != notes_of(here)


def test_all_are_shown_at_one_scale(tmp_path: Path) -> None:
    job = job_of(tmp_path)
    found = explore(job, axes_of(job, ["front.width=203,260"]), shown=2)
    sizes = [Image.open(io.BytesIO(option.shown.picture)).size for option in found.options]
    margins = [
        option.front.layout.width + 2 * max(24.0, 0.05 * (option.front.layout.width * 160) ** 0.5)
        for option in found.options
    ]
    scales = [size[0] / margin for size, margin in zip(sizes, margins, strict=True)]
    assert len(scales) == 2
    assert scales[0] == pytest.approx(scales[1], rel=0.01)


def test_the_page_asks_for_nothing_and_escapes_titles(tmp_path: Path) -> None:
    job = job_of(tmp_path, JOB.replace("A small front", "<script>alert(1)</script> & doors"))
    page = options_page(explore(job, axes_of(job, ["layers[1].seed=1,2"]), shown=2)).decode()
    assert "<script>" not in page
    assert set(re.findall(r'(?:src|href)="([^"]{5})', page)) == {"data:"}
    assert "http://" not in page
    assert "https://" not in page


def test_the_sheet_names_every_option_with_its_figures(found: Options) -> None:
    sheet = options_sheet(found)
    words = pypdfium2.PdfDocument(sheet.pdf)[0].get_textpage().get_text_range()
    flat = " ".join(words.split())
    for option in found.options:
        assert option.shown.tried.mark in flat
        for line in figure_lines(option):
            assert line in flat
    with Image.open(io.BytesIO(sheet.png)) as picture:
        assert picture.size[0] / picture.size[1] == pytest.approx(420 / 297, rel=0.01)


def test_wood_is_told_as_it_is_bought() -> None:
    """A board foot is 144 cubic inches, a board 1 in thick, 12 in wide and 1 ft long: common practice in the timber trade."""
    from helpers import small_front

    assert (
        wood_text(
            small_front(unit="in", front={"width": 8, "height": 5}, wood={"blank": "3/4 in", "floor": "3/8 in"}),
            144 * 25.4**3,
        )
        == "1.0 board feet"
    )
    assert wood_text(small_front(), 2.5e6) == "0.0025 m3"


# The command


def test_an_option_becomes_a_job_file_of_its_mark(
    path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(path.parent)
    path.write_text(f"# my own words\n{JOB}")
    assert run("options", path, "--count", "6", "--show", "3") == 0
    said = capsys.readouterr().out
    notes = json.loads((path.parent / "small-options" / "options.json").read_text())
    for option in notes["options"]:
        assert f"{option['letter']}  mark {option['mark']}" in said
        assert run("options", path, "--take", option["letter"].lower()) == 0
        taken = path.parent / f"small-{option['letter'].lower()}.toml"
        assert build_front(read_job(taken)).mark == option["mark"]
        assert "# my own words" in taken.read_text()
    assert run("options", path, "--count", "6", "--show", "3") == 0
    assert run("options", path, "--take", "Q") == 2
    assert "must be one of A, B, C" in capsys.readouterr().err


def test_an_option_of_another_state_of_the_job_is_refused(
    path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(path.parent)
    assert run("options", path, "--take", "B") == 2
    assert "run facade options first" in capsys.readouterr().err
    run("options", path, "--count", "2", "--show", "2")
    path.write_text(JOB.replace("floor = 8", "floor = 9"))
    assert run("options", path, "--take", "B") == 2
    assert "another state of this job" in capsys.readouterr().err
    assert not (path.parent / "small-b.toml").exists()


def test_a_taken_option_is_never_written_over_another_file(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(path.parent)
    run("options", path, "--count", "2", "--show", "2")
    (path.parent / "small-b.toml").write_text("my own")
    assert run("options", path, "--take", "B") == 2
    assert (path.parent / "small-b.toml").read_text() == "my own"


def test_a_cluster_that_does_not_answer_is_said(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("options", path, "--cluster", "nonsense://here") == 2
    assert "`--cluster`" in capsys.readouterr().err


def test_a_job_that_was_read_from_no_file_has_no_options() -> None:
    from helpers import small_job

    with pytest.raises(FacadeError, match="read from a file"):
        axes_of(small_job(), [])
