"""The job file: what is read, and that every mistake is named in one sentence with its place, its limit or its cure."""

import copy
import json
import math
import tomllib
from pathlib import Path

import jsonschema
import pytest
from helpers import PLAIN_KINDS, a_job, layer_of, refusal, refusal_of_text, small_job
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from facade.errors import FacadeError, FileError, JobError
from facade.front import build_front, mark_of
from facade.job import make_job, read_job
from facade.job.lines import key_lines
from facade.job.schema import job_schema, job_schema_text

PRESETS = sorted((Path(__file__).parents[1] / "presets").glob("*.toml"))

GOOD = """\
title = "A small front"

[front]
width = 200
height = 120

[strips]
count = 8

[wood]
species = "white ash"
blank = 20

[[layers]]
kind = "hills"
size = 60
"""


def lines_of(error: JobError) -> list[tuple[int | None, str]]:
    """Return the line and the field of every mistake."""
    return [(mistake.line, mistake.field) for mistake in error.mistakes]


@pytest.fixture(name="job_file")
def _job_file(tmp_path):
    path = tmp_path / "hall.toml"
    path.write_text(GOOD, encoding="utf-8")
    return path


def test_a_job_file_is_read(job_file):
    assert read_job(job_file).front.width == 200.0


def test_a_job_is_called_as_its_file(job_file):
    assert read_job(job_file).name == "hall"


def test_a_job_file_may_begin_with_a_byte_order_mark_and_end_lines_either_way(tmp_path):
    path = tmp_path / "job.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert read_job(path).strips.count == 8


def test_bare_numbers_are_in_the_unit_of_the_job():
    assert (
        small_job(unit="in", front={"width": 40, "height": "100 mm"}, wood={"blank": 1, "floor": 0.5}).front.width
        == 1016.0
    )


def test_a_job_in_inches_and_the_same_in_millimetres_are_one_design():
    inches = small_job(
        unit="in",
        front={"width": 40, "height": "20"},
        wood={"blank": "7/8", "floor": "3/8"},
        layers=[{"kind": "hills", "size": 2}],
    )
    metric = small_job(
        front={"width": 1016, "height": 508},
        wood={"blank": 22.225, "floor": 9.525},
        layers=[{"kind": "hills", "size": 50.8}],
    )
    assert mark_of(inches) == mark_of(metric)


def test_a_job_is_frozen():
    with pytest.raises(ValidationError, match="frozen"):
        small_job().front.width = 3.0


@pytest.mark.parametrize(
    "change",
    [
        {"title": "Another name"},
        {"sampling": {"step": 3}},
        {"sampling": {"station": 50}},
        {"picture": {"light": "top"}},
        {"fraction": 16},
    ],
)
def test_what_does_not_decide_the_cut_leaves_the_mark(change):
    assert mark_of(small_job(**change)) == mark_of(small_job())


@pytest.mark.parametrize(
    "change",
    [
        {"front": {"width": 200.001}},
        {"strips": {"gap": 2}},
        {"wood": {"sanding": 0.7}},
        {"wood": {"sawing": 1.6}},
        {"wood": {"species": "black walnut"}},
        {"carving": {"packed": True}},
        {"layers": [{"kind": "hills", "size": 60, "seed": 2}]},
        {"fades": [{"edge": "top", "width": 30}]},
        {"lands": [{"centre": [50, 50], "size": [20, 20]}]},
        {"caps": [{"edge": "left", "width": 9, "height": 9}]},
    ],
)
def test_what_decides_the_cut_changes_the_mark(change):
    assert mark_of(small_job(**change)) != mark_of(small_job())


def test_a_mark_has_no_letter_that_is_mistaken_for_another():
    marks = {mark_of(small_job(front={"width": width})) for width in range(200, 260)}
    assert not set("".join(marks)) & set("ILOU")
    assert len(marks) == 60


MISTAKES = {
    "an unknown name": ({"front": {"widht": 3}}, "`front.widht` is not a known name: did you mean `width`?"),
    "an unknown part": ({"wodo": {}}, "`wodo` is not a known name: did you mean `wood`?"),
    "an unknown name far from any": ({"zzzz": 1}, "known here: title, unit"),
    "an unknown name in a layer": (
        {"layers": [{"kind": "hills", "sizze": 3, "size": 60}]},
        "`layers[1].sizze` is not a known name: did you mean `size`?",
    ),
    "an unknown kind": ({"layers": [{"kind": "hlils", "size": 60}]}, "did you mean `hills`?"),
    "no kind": ({"layers": [{"size": 60}]}, "`layers[1].kind` is missing: add one of"),
    "a kind that is no text": ({"layers": [{"kind": 3}]}, "`layers[1].kind` must be a known kind of relief"),
    "an unknown species": ({"wood": {"species": "white asch"}}, "`wood.species` must be one of"),
    "an unknown choice": (
        {"carving": {"doors": "mirorred"}},
        "`carving.doors` must be one of continuous, mirrored, repeated",
    ),
    "an unknown unit": ({"unit": "cm"}, "`unit` must be one of mm, in"),
    "a text for a whole number": (
        {"strips": {"count": "eight"}},
        '`strips.count` must be a whole number (got "eight")',
    ),
    "a broken whole number": ({"strips": {"count": 8.5}}, "`strips.count` must be a whole number (got 8.5)"),
    "true for a length": ({"front": {"width": True}}, "`front.width` must be a length"),
    "a text that is no length": ({"front": {"width": "wide"}}, '`front.width` must be a length such as 18, "18 mm"'),
    "a list for a length": ({"front": {"width": [200]}}, "`front.width` must be a length"),
    "a number for a text": ({"title": 3}, "`title` must be a text in quotes (got 3)"),
    "a number for a table": ({"layers": 3}, "`layers` must be a list"),
    "a text for a table": ({"wood": None, "front": "wide"}, "`front` must be a table"),
    "a word for yes or no": ({"carving": {"packed": "perhaps"}}, "`carving.packed` must be true or false"),
    "no number": ({"front": {"width": math.nan}}, "`front.width` must be a finite length"),
    "no number where a share is due": (
        {"layers": [{"kind": "hills", "size": 9, "roughness": math.nan}]},
        "`layers[1].roughness` must be a finite number",
    ),
    "an endless length": ({"front": {"width": math.inf}}, "`front.width` must be a finite length"),
    "an endless number": (
        {"layers": [{"kind": "hills", "size": 9, "amount": -math.inf}]},
        "`layers[1].amount` must be a finite number",
    ),
    "a negative size": ({"front": {"width": -200}}, "`front.width` must be more than 0 mm (got -200 mm)"),
    "a negative length": ({"strips": {"gap": -2}}, "`strips.gap` must be at least 0 mm (got -2 mm)"),
    "a negative length in a text": ({"strips": {"gap": "-2 mm"}}, "`strips.gap` must be at least 0 mm"),
    "no size at all": ({"wood": {"blank": 0}}, "`wood.blank` must be more than 0 mm (got 0 mm)"),
    "a huge length": ({"front": {"width": 1e7}}, "`front.width` must be at most 100000 mm"),
    "a number beyond all bounds": (
        {"front": {"width": 10**400}},
        "`front.width` must be a finite length (got a huge number)",
    ),
    "a huge whole number": ({"strips": {"count": 10**30}}, "`strips.count` must be at most 10000 (got a huge number)"),
    "no strips": ({"strips": {"count": 0}}, "`strips.count` must be at least 1 (got 0)"),
    "no doors": ({"front": {"doors": 0}}, "`front.doors` must be at least 1 (got 0)"),
    "a share above one": (
        {"layers": [{"kind": "hills", "size": 9, "roughness": 1.2}]},
        "`layers[1].roughness` must be at most 1 (got 1.2)",
    ),
    "a negative seed": (
        {"layers": [{"kind": "hills", "size": 9, "seed": -1}]},
        "`layers[1].seed` must be at least 0 (got -1)",
    ),
    "an empty title": ({"title": ""}, "`title` must be at least 1 letter long"),
    "an endless title": ({"title": "x" * 201}, "`title` must be at most 200 letters long"),
    "no layers": ({"layers": []}, "`layers` must hold at least 1"),
    "too many layers": ({"layers": [{"kind": "hills", "size": 60}] * 65}, "`layers` must hold at most 64"),
    "a place of one number": ({"lands": [{"centre": [3], "size": [9, 9]}]}, "`lands[1].centre"),
    "a place of three numbers": ({"lands": [{"centre": [3, 3, 3], "size": [9, 9]}]}, "`lands[1].centre"),
    "a step too fine": ({"sampling": {"step": 0.001}}, "`sampling.step` must be at least 0.05 mm"),
    "a floor above the blank": (
        {"wood": {"floor": 21}},
        "`wood.floor` must be lower than the blank less the sanding allowance, 19.2 mm (got 21 mm)",
    ),
    "a floor at the face": ({"wood": {"floor": 19.2}}, "`wood.floor` must be lower than"),
    "more sanding than sawing": (
        {"wood": {"sanding": 2}},
        "`wood.sawing` must be at least the sanding allowance, 2 mm (got 1.5 mm)",
    ),
    "a depth beyond the floor": (
        {"carving": {"fit": "depth", "depth": 11.3}},
        "`carving.depth` must be at most 11.2 mm",
    ),
    "a fit without its depth": ({"carving": {"fit": "depth"}}, "`carving.depth` is missing"),
    "a depth without its fit": ({"carving": {"depth": 5}}, "`carving.depth` counts only with"),
    "a land beside the front": (
        {"lands": [{"centre": [195, 60], "size": [20, 20]}]},
        "`lands[1]` must lie on the front, from 0 to its width of 200 mm",
    ),
    "a land above the front": (
        {"lands": [{"centre": [100, 115], "size": [20, 20]}]},
        "`lands[1]` must lie on the front, from 0 to its height of 120 mm",
    ),
    "a land below the floor": (
        {"lands": [{"centre": [50, 50], "size": [9, 9], "height": 7}]},
        "`lands[1].height` must be from the floor, 8 mm",
    ),
    "a fade above the blank": (
        {"fades": [{"edge": "top", "width": 9, "height": 25}]},
        "`fades[1].height` must be from the floor",
    ),
    "a cap below the floor": (
        {"caps": [{"edge": "left", "width": 9, "height": 2}]},
        "`caps[1].height` must be from the floor",
    ),
    "a cap on a door that is not there": (
        {"caps": [{"edge": "left", "width": 9, "height": 9, "door": 2}]},
        "`caps[1].door` must be at most 1",
    ),
    "a mask with nothing after it": (
        {"layers": [{"kind": "hills", "size": 60, "combine": "mask"}]},
        "`layers[1]` is a mask with no layer after it",
    ),
    "a fraction that no rule has": ({"fraction": 12}, "`fraction` must be 16, 32, 64 or 128 (got 12)"),
    "doors that disagree": (
        {"front": {"doors": 3, "door_widths": [100, 97]}},
        "`front.doors` must agree with `front.door_widths`",
    ),
    "a space and a hidden joint": (
        {"front": {"doors": 2, "space": 3, "hidden_joint": True}},
        "`front.space` and `front.hidden_joint` cannot both",
    ),
    "reveals that leave nothing": (
        {"front": {"reveals": {"left": 100, "right": 100}}},
        "`front.reveals` must leave some of the width",
    ),
    "spaces that leave no door": (
        {"front": {"doors": 4, "space": 80}, "strips": {"count": 8}},
        "`front.space` of 80 mm between 4 doors leaves no door",
    ),
    "strips that do not share out": (
        {"front": {"doors": 3}},
        "`strips.count` must be a multiple of the number of doors, 3 (got 8): take 6 or 9",
    ),
    "strips that do not fit": (
        {"strips": {"count": 10, "width": 30, "gap": 0}},
        "`strips` do not fit: 10 strips of 30 mm",
    ),
    "strips too wide for their count": ({"strips": {"count": 10, "width": 30}}, "at most 6 of this width fit"),
    "a strip wider than its door": ({"strips": {"count": None, "width": 201}}, "`strips.width` must be at most"),
    "a strip wider than its door, with its gap": (
        {"strips": {"count": None, "width": 201, "gap": 3}},
        "`strips.width` must be at most",
    ),
    "edges that leave no strip": ({"strips": {"count": None, "width": 30, "edge": 100}}, "`strips.edge` must"),
    "edges that leave no gap": ({"strips": {"count": 4, "width": 30, "edge": 100}}, "`strips.edge` must"),
    "an edge that disagrees": (
        {"strips": {"count": 8, "width": 20, "gap": 3, "edge": 4}},
        "`strips.edge` does not agree with count, width and gap, which leave 9.5 mm (got 4 mm)",
    ),
    "neither count nor width": ({"strips": {"count": None, "gap": 3}}, "`strips` needs a `count` or a `width`"),
    "ten thousand strips": (
        {"front": {"width": 1000}, "strips": {"count": 10_000, "width": 0.1}},
        "`strips.width` must be at least 1 mm (got 0.1 mm)",
    ),
    "strips like dust": (
        {"strips": {"count": None, "width": 1e-320, "gap": 0}},
        "`strips.width` must be more than 0 mm (got next to nothing)",
    ),
    "ten thousand strips on a small front": ({"strips": {"count": 10_000}}, "`strips` do not fit"),
    "doors that do not add up": (
        {"front": {"door_widths": [100, 90], "space": 3}, "strips": {"count": None, "width": 20}},
        "`front.door_widths` must add up to 197 mm",
    ),
    "doors wider than the front": (
        {"front": {"door_widths": [100, 120]}, "strips": {"count": None, "width": 20}},
        "`front.door_widths` must add up to 200 mm",
    ),
    "a count over unlike doors": ({"front": {"door_widths": [100, 97]}}, "`strips.count` cannot be shared out"),
    "a pattern finer than numbers": (
        {"layers": [{"kind": "facets", "size": 1e-320}]},
        "`layers[1].size` must be at least 2 mm",
    ),
    "layers multiplied beyond numbers": (
        {"layers": [{"kind": "hills", "size": 60, "amount": 1e6, "combine": "multiply"}] * 60},
        "`layers`",
    ),
}


def changed(changes):
    """Return a small job with changes; None takes a setting out."""
    return without_nothing(a_job(**{name: change for name, change in changes.items() if change is not None}))


def without_nothing(part):
    """Return a part of a job without the settings that are None, which TOML cannot say."""
    if isinstance(part, dict):
        return {name: without_nothing(value) for name, value in part.items() if value is not None}
    return part


@pytest.mark.parametrize(("changes", "sentence"), MISTAKES.values(), ids=MISTAKES.keys())
def test_a_mistake_is_named(changes, sentence):
    assert sentence in refusal(changed(changes))


@pytest.mark.parametrize("changes", [changes for changes, _ in MISTAKES.values()], ids=MISTAKES.keys())
def test_a_mistake_is_one_sentence_with_a_field_and_a_cure(changes):
    said = refusal(changed(changes)).splitlines()
    for sentence in said:
        assert "`" in sentence
        assert not sentence.endswith(".")
        assert "(" in sentence or ": " in sentence
        assert "input should" not in sentence.lower()
    assert len(said) == len(set(said))


def test_limits_are_named_in_the_unit_of_the_job():
    said = refusal(a_job(unit="in", front={"width": 10, "height": 5}, wood={"blank": 1, "floor": 1.5}))
    assert "(got 1 1/2 in)" in said


def test_what_is_not_toml_is_named_with_its_line(tmp_path):
    error = refusal_of_text(tmp_path, GOOD.replace("count = 8", "count 8"))
    assert str(error).startswith("line 8: `count` has no equals sign: write count = 8")


def test_a_name_given_twice_is_named_with_both_lines(tmp_path):
    said = str(refusal_of_text(tmp_path, GOOD.replace("height = 120", "width = 120")))
    assert said.startswith("line 5: `front.width` is given twice, in lines 4 and 5")


def test_a_number_of_five_thousand_digits_is_refused_in_a_sentence(tmp_path):
    error = refusal_of_text(tmp_path, GOOD.replace("count = 8", "count = " + "9" * 5000))
    assert str(error).startswith(("this is not", "line 8: "))


def test_an_empty_file_misses_every_part(tmp_path):
    error = refusal_of_text(tmp_path, "")
    assert {mistake.field for mistake in error.mistakes} == {"title", "front", "strips", "wood", "layers"}


def test_several_mistakes_are_named_at_once_each_with_its_line(tmp_path):
    text = (
        GOOD.replace("width = 200", "widht = 200")
        .replace("blank = 20", 'blank = "thick"')
        .replace("size = 60", "size = -60\nrougness = 0.3")
    )
    assert lines_of(refusal_of_text(tmp_path, text)) == [
        (3, "front.width"),
        (4, "front.widht"),
        (12, "wood.blank"),
        (16, "layers[1].size"),
        (17, "layers[1].rougness"),
    ]


def test_several_disagreements_are_named_at_once_each_with_its_line(tmp_path):
    text = (
        GOOD.replace("blank = 20", "blank = 20\nfloor = 25")
        + '\n[[lands]]\ncentre = [300, 60]\nsize = [20, 20]\n\n[carving]\nfit = "depth"\n'
    )
    assert lines_of(refusal_of_text(tmp_path, text)) == [
        (13, "wood.floor"),
        (20, "lands[1].centre"),
        (24, "carving.fit"),
    ]


def test_the_second_of_two_layers_is_named_with_its_own_line(tmp_path):
    text = GOOD + '\n[[layers]]\nkind = "waves"\n\n[[layers.trains]]\nlength = 90\n\n[[layers.trains]]\nlength = 0\n'
    assert lines_of(refusal_of_text(tmp_path, text)) == [(25, "layers[2].trains[2].length")]


def test_a_mistake_within_one_line_is_named_with_that_line(tmp_path):
    text = GOOD + '\n[[layers]]\nkind = "waves"\ntrains = [{ length = 90 }, { lenght = 9, length = 3 }]\n'
    assert lines_of(refusal_of_text(tmp_path, text)) == [(20, "layers[2].trains[2].lenght")]


def test_a_dotted_name_is_found_on_its_line(tmp_path):
    text = 'wood.blank = -1\nwood.species = "white ash"\n' + GOOD.replace(
        '[wood]\nspecies = "white ash"\nblank = 20\n', ""
    )
    assert lines_of(refusal_of_text(tmp_path, text)) == [(1, "wood.blank")]


def test_only_line_feeds_end_lines(tmp_path):
    text = GOOD.replace('"A small front"', '"A small front" # \x85 \u2028 \u2029').replace("blank = 20", "blank = 0")
    assert lines_of(refusal_of_text(tmp_path, text)) == [(12, "wood.blank")]


def test_a_file_error_names_the_line_of_its_layer(tmp_path):
    text = GOOD + '\n[[layers]]\nkind = "grid"\nfile = "missing.npy"\n'
    [mistake] = refusal_of_text(tmp_path, text).mistakes
    assert mistake.line == 18
    assert mistake.sentence == "`layers[2]`: `file` is not there: put it beside the job file (got 'missing.npy')"


@pytest.mark.parametrize("opening", ["x = " + "[" * 20_000, "x = " + "{a=" * 20_000, "[" + "a." * 20_000 + "a]"])
def test_deep_nesting_is_refused_in_a_sentence(tmp_path, opening):
    error = refusal_of_text(tmp_path, GOOD + opening)
    assert len(error.mistakes) == 1
    assert len(str(error)) < 400


@pytest.mark.parametrize("opening", ["[", "x", '"'])
def test_a_long_blank_line_in_a_text_is_read_to_its_end(tmp_path, opening):
    path = tmp_path / "job.toml"
    path.write_text(GOOD.replace('"A small front"', "'''\n" + opening + " " * 50_000 + "x'''"), encoding="utf-8")
    # Were patterns let loose on the whole line, this would not end.
    with pytest.raises(JobError, match="letters long"):
        read_job(path)


def test_lines_are_told_of_headers_and_keys():
    lines = key_lines(GOOD)
    assert (lines["front",], lines["front", "height"], lines["layers", 0], lines["layers", 0, "size"]) == (3, 5, 14, 16)


def test_a_missing_job_file_is_named(tmp_path):
    with pytest.raises(FileError, match=r"hall\.toml is not there"):
        read_job(tmp_path / "hall.toml")


def test_a_folder_is_no_job_file(tmp_path):
    with pytest.raises(FileError, match="is a folder"):
        read_job(tmp_path)


def test_a_job_file_that_is_no_text_is_refused(tmp_path):
    (tmp_path / "job.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(FileError, match="UTF-8"):
        read_job(tmp_path / "job.toml")


def test_a_huge_job_file_is_refused_unread(tmp_path):
    with open(tmp_path / "job.toml", "wb") as file:
        file.truncate(5 * 2**20)
    with pytest.raises(FileError, match="at most 256 KB"):
        read_job(tmp_path / "job.toml")


@pytest.mark.parametrize("error", [JobError([]), FileError("x")])
def test_errors_of_a_user_end_with_two(error):
    assert isinstance(error, FacadeError)
    assert error.exit_code == 2


WHOLE = a_job(
    front={"doors": 2, "reveals": {"left": 3}},
    carving={"fit": "depth", "depth": 6},
    layers=[layer_of(kind) for kind in PLAIN_KINDS],
    lands=[{"centre": [50, 50], "size": [20, 20], "height": 12}],
    fades=[{"edge": "top", "width": 30}],
    caps=[{"edge": "left", "width": 9, "height": 12, "door": 1}],
    sampling={"step": 4},
    picture={"light": "top"},
)

odd_values = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**20), 10**20),
    st.floats(),
    st.text(max_size=20),
    st.sampled_from(["18 mm", "1/0", "", "mm", "9" * 400, 10**400, 1e-320, 0, -0.0, "\0", "`", "\n"]),
    st.lists(st.one_of(st.integers(-5, 300), st.floats(), st.text(max_size=3), st.just({})), max_size=4),
    st.dictionaries(
        st.sampled_from(["kind", "size", "width", "x", ""]), st.integers(-3, 99) | st.just("hills"), max_size=3
    ),
)


def all_places(part, place=()):
    """Return every place in a job that holds something."""
    here = [place] if place else []
    inner = part.items() if isinstance(part, dict) else enumerate(part) if isinstance(part, list) else ()
    return here + [below for name, value in inner for below in all_places(value, (*place, name))]


PLACES = all_places(WHOLE)


@settings(max_examples=1500)
@given(st.sampled_from(PLACES), odd_values, st.booleans())
def test_whatever_stands_in_a_job_it_is_taken_or_refused_in_sentences(place, value, added):
    job = copy.deepcopy(WHOLE)
    part = job
    for name in place[:-1]:
        part = part[name]
    if added and isinstance(part, dict):
        part["extra"] = value
    else:
        part[place[-1]] = value
    try:
        make_job(job)
    except JobError as error:
        for mistake in error.mistakes:
            assert mistake.sentence.startswith("`")
            assert len(mistake.sentence) < 700
            assert "input should" not in mistake.sentence.lower()
            assert "\n" not in mistake.sentence


def test_the_whole_job_that_mistakes_are_made_in_is_a_good_one():
    assert build_front(make_job(WHOLE)).count == 8


def as_json(settings):
    """Return settings as another program would hand them over."""
    return json.loads(json.dumps(settings))


@pytest.mark.parametrize("path", PRESETS, ids=lambda path: path.stem)
def test_the_schema_takes_every_preset(path):
    jsonschema.validate(as_json(tomllib.loads(path.read_text("utf-8"))), job_schema())


def test_there_are_presets():
    assert PRESETS


@pytest.mark.parametrize("path", PRESETS, ids=lambda path: path.stem)
def test_every_preset_builds(path):
    assert build_front(read_job(path)).count > 1


def test_the_schema_is_one():
    jsonschema.Draft202012Validator.check_schema(job_schema())


def test_the_schema_takes_the_whole_job():
    jsonschema.validate(as_json(WHOLE), job_schema())


@pytest.mark.parametrize(
    "written", ["18 mm", "-3 mm", "1 3/8 in", "1-3/8 in", '23/32"', "23/32″", "−3 mm", "18 MM", ".5 in"]
)
def test_the_schema_takes_every_way_of_writing_a_length(written):
    jsonschema.validate(a_job(layers=[{"kind": "hills", "size": 60, "move": [written, 0]}]), job_schema())


@pytest.mark.parametrize(
    "changes",
    [
        {"front": {"widht": 3}},
        {"strips": {"count": "eight"}},
        {"layers": []},
        {"layers": [{"kind": "hlils", "size": 60}]},
        {"unit": "cm"},
        {"title": 3},
        {"front": {"width": "wide"}},
    ],
)
def test_the_schema_refuses_a_wrong_job(changes):
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(a_job(**changes), job_schema())


def test_the_schema_as_text_is_the_schema():
    assert json.loads(job_schema_text()) == job_schema()


# Figures far outside furniture.

INCHES = {
    "unit": "in",
    "front": {"width": 18, "height": 30},
    "strips": {"count": 20},
    "wood": {"blank": 0.875, "floor": 0.3125},
    "layers": [{"kind": "hills", "size": 3}],
}


def in_inches(**changes):
    return a_job(
        **{name: value | changes.get(name, {}) if isinstance(value, dict) else value for name, value in INCHES.items()},
        **{name: value for name, value in changes.items() if name not in INCHES},
    )


@pytest.mark.parametrize(
    ("changes", "named", "mm"),
    [
        ({"front": {"width": 450}}, "`front.width`", "11430 mm"),
        ({"front": {"height": 300}}, "`front.height`", "7620 mm"),
        ({"front": {"height": 800}}, "`front.height`", "20320 mm"),  # more than any job holds
        ({"strips": {"width": 18}}, "`strips.width`", "457.2 mm"),
        ({"wood": {"blank": 20}}, "`wood.blank`", "508 mm"),
    ],
)
def test_millimetres_in_a_job_in_inches_are_asked_about(changes, named, mm):
    said = refusal(in_inches(**changes))
    (figure,) = next(iter(changes.values())).values()
    assert said.startswith(named)
    assert f"{figure} in is {mm}" in said
    assert f'{figure} looks like millimetres: write unit = "mm", or "{figure} mm"' in said


def test_a_whole_job_of_millimetres_in_inches_has_every_slip_named():
    said = refusal(
        a_job(unit="in", front={"width": 450, "height": 120}, strips={"width": 18, "count": None}, wood={"blank": 7})
    )
    assert "450 looks like millimetres" in said
    assert "18 looks like millimetres" in said


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"front": {"width": 45_000}}, "limits.front_widest = 45000"),
        ({"front": {"height": 3501}}, "limits.front_highest = 3501"),
        ({"front": {"width": 1000}, "strips": {"count": None, "width": 185}}, "limits.strip_widest = 185"),
        ({"wood": {"blank": 81}}, "limits.blank_thickest = 81"),
    ],
)
def test_what_is_far_too_large_in_mm_is_asked_about_and_may_be_meant(changes, named):
    said = refusal(a_job(**changes))
    assert "a digit too many" in said
    assert named in said
    name, value = named.removeprefix("limits.").split(" = ")
    assert make_job(a_job(**changes, limits={name: float(value)}))


@pytest.mark.parametrize("changes", [{"front": {"width": 12_000, "height": 3500}}, {"wood": {"blank": 80}}])
def test_what_is_large_and_no_larger_than_asked_is_taken_without_a_word(changes):
    assert make_job(a_job(**changes))


def test_a_wide_wall_in_inches_is_taken_when_it_is_meant():
    changes = {"front": {"width": "35 ft", "height": 90}}
    assert "limits.front_widest_inch = 420" in refusal(in_inches(**changes))
    assert make_job(in_inches(**changes, limits={"front_widest_inch": 420})).front.width == pytest.approx(420 * 25.4)


@pytest.mark.parametrize("depth", [20, 25.0])
def test_a_pull_that_goes_through_the_blank_is_asked_about(depth):
    pull = {"centre": [100, 60], "size": [30, 60], "depth": depth}
    said = refusal(a_job(pulls=[pull]))
    assert said.startswith("`pulls[1].depth` must be less than the blank, 20 mm")
    assert make_job(a_job(pulls=[pull | {"depth": 11}]))


def test_a_pull_of_millimetres_in_a_job_in_inches_is_asked_about():
    pull = {"centre": [9, 15], "size": [1.25, 4], "depth": 12}
    assert '12 looks like millimetres: write unit = "mm", or "12 mm"' in refusal(in_inches(pulls=[pull]))


def test_inches_in_a_job_in_mm_are_asked_about():
    small = a_job(front={"width": 36, "height": 30}, wood={"blank": 1.25, "floor": 1, "sanding": 0.1, "sawing": 0.1})
    said = refusal(small)
    assert "a front of 36 mm by 30 mm with a blank of 1.25 mm looks like inches" in said
    assert 'write unit = "in"' in said
    assert make_job(small | {"limits": {"blank_thinnest": 1}})


@pytest.mark.parametrize("size", [(50, 60), (36, 30), (11, 30)])
def test_a_small_front_of_ordinary_wood_is_no_slip(size):
    assert make_job(a_job(front={"width": size[0], "height": size[1]}, strips={"count": 1}))


def test_a_strip_thinner_than_a_millimetre_is_told_to_look_at_the_unit():
    said = refusal(a_job(strips={"count": None, "width": 0.75}))
    assert "`strips.width` must be at least 1 mm (got 0.75 mm): write a larger one, or check the unit" in said
