"""The server of the page: what it answers, what it refuses, and that nothing outside its folder is touched."""

from __future__ import annotations

import io
import json
import os
import re
import signal
import socket
import stat
import struct
import subprocess
import sys
import time
import tomllib
import urllib.error
import urllib.request
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
import pytest
from starlette.testclient import TestClient
from test_build import JOB, contents

from facade.checks import check_front
from facade.errors import visible
from facade.fields import LengthMark
from facade.front import build_front
from facade.job import Job, make_job, read_job
from facade.lengths import Unit
from facade.reliefs import KINDS
from facade.reliefs.catalogue import parameters
from facade.viewing.report import report
from facade.viewing.scene import COARSE, FINE, about, grid_of, packed
from facade.web.app import LARGEST_BODY, page_app
from facade.web.fields import SECTIONS, controls, plain
from facade.web.keeping import MOST, Fronts, bytes_of
from facade.web.serving import kept_secret
from facade.web.shop import Shop, text_of

PORT = 8123
SECRET = "a-secret-of-the-test"
HERE = {"Host": f"127.0.0.1:{PORT}", "Origin": f"http://127.0.0.1:{PORT}"}
SETTINGS = tomllib.loads(JOB)
COMMENTED = f"# what the maker says\n{JOB}# at the end\n".replace("width = 203", "width = 203  # measured twice")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    place = tmp_path / "shop"
    place.mkdir()
    (place / "small.toml").write_text(COMMENTED)
    (tmp_path / "outside.toml").write_text(JOB)
    return place


@pytest.fixture
def page(folder: Path) -> TestClient:
    app = page_app(Shop(folder, folder / "small.toml"), PORT, SECRET)
    return TestClient(app, base_url=f"http://127.0.0.1:{PORT}/{SECRET}", headers=HERE)


def scene_of(data: bytes) -> tuple[dict, np.ndarray]:
    length = int.from_bytes(data[:4], "little")
    said = json.loads(data[4 : 4 + length])
    heights = np.frombuffer(data[4 + length :], dtype="<u2").reshape(said["rows"], -1)
    return said, heights * (said["blank"] / 65535)


# What it answers


@pytest.mark.parametrize(("fine", "grid"), [(False, COARSE), (True, FINE)])
def test_heights_are_those_of_the_surface(page: TestClient, fine: bool, grid: tuple[int, int]) -> None:
    """To half of a 65535th of the blank, both edges and both ends of every strip among them."""
    said, heights = scene_of(page.post("/scene", json={"settings": SETTINGS, "fine": fine}).content)
    front = build_front(make_job(SETTINGS))
    assert (said["columns"], said["rows"], said["mark"]) == (*grid, front.mark)
    y = np.linspace(said["bottom"], said["top"], said["rows"])
    for index, (left, right, _) in enumerate(said["strips"]):
        x = np.linspace(left, right, said["columns"])
        found = heights[:, index * said["columns"] : (index + 1) * said["columns"]]
        assert np.abs(found - front.surface.at(x[None, :], y[:, None])).max() <= 20 / 65535 / 2 + 1e-9


def test_findings_and_numbers_are_the_command_lines(page: TestClient) -> None:
    thin = SETTINGS | {"wood": SETTINGS["wood"] | {"floor": 3}}
    found = page.post("/findings", json={"settings": thin}).json()
    front = build_front(make_job(thin))
    assert found["mark"] == front.mark
    assert found["findings"] == [finding.as_data() for finding in check_front(front)]
    assert any(finding["weight"] == "stops" for finding in found["findings"])
    assert found["numbers"]["thinnest"].startswith("3 mm")


def test_a_strip_has_its_own_edges(page: TestClient) -> None:
    found = page.post("/strip", json={"settings": SETTINGS, "number": 5}).json()
    strip = build_front(make_job(SETTINGS)).strip(5)
    from_top = np.array(found["from_top"])
    assert np.interp(from_top, strip.from_top[::-1], strip.left_edge[::-1]) == pytest.approx(found["left"], abs=0.01)
    assert np.interp(from_top, strip.from_top[::-1], strip.right_edge[::-1]) == pytest.approx(found["right"], abs=0.01)


def test_it_begins_with_the_job_and_lists_files_and_presets(page: TestClient) -> None:
    found = page.get("/start").json()
    assert found["name"] == "small.toml"
    assert found["settings"] == SETTINGS
    assert found["listed"]["files"] == ["small.toml"]
    assert "hall-cabinet" in found["listed"]["presets"]


def test_every_preset_that_is_listed_opens_and_shows(page: TestClient) -> None:
    for preset in page.get("/files").json()["presets"]:
        found = page.post("/open", json={"preset": preset}).json()
        said, _ = scene_of(page.post("/scene", json={"settings": found["settings"]}).content)
        assert said["title"] == found["settings"]["title"]


def test_the_controls_are_the_jobs_own_fields() -> None:
    found = controls()
    for name, model in SECTIONS.items():
        assert [field["name"] for field in found["sections"][name]] == list(model.model_fields)
    for kind, relief in KINDS.items():
        wanted = {one.name: (one.low, one.high, one.about) for one in parameters(relief)}
        assert {
            one["name"]: (one["low"], one["high"], one["about"]) for one in found["kinds"][kind]["fields"]
        } == wanted
    lengths = {one["name"] for one in found["sections"]["wood"] if one["length"]}
    marked = {
        name
        for name, info in Job.model_fields["wood"].annotation.model_fields.items()
        if any(isinstance(mark, LengthMark) for mark in info.metadata)
    }  # type: ignore[union-attr]
    assert marked <= lengths


def test_lengths_in_words_become_numbers_in_the_jobs_unit() -> None:
    settings = {
        "unit": "in",
        "title": "3 mm",
        "wood": {"blank": "3/4 in", "species": "white ash"},
        "front": {"width": "254 mm"},
    }
    assert plain(settings, Unit.INCH) == {
        "unit": "in",
        "title": "3 mm",
        "wood": {"blank": 0.75, "species": "white ash"},
        "front": {"width": 10.0},
    }


# Saving


def test_saving_and_opening_again_gives_the_same_mark_and_keeps_comments(page: TestClient, folder: Path) -> None:
    found = page.get("/start").json()
    changed = json.loads(json.dumps(found["settings"]))
    changed["layers"][0]["size"] = 120
    changed["strips"]["count"] = 10
    saved = page.post(
        "/save", json={"name": "small.toml", "text": found["text"], "settings": changed, "hash": found["hash"]}
    )
    assert saved.status_code == 200
    mark = scene_of(page.post("/scene", json={"settings": changed}).content)[0]["mark"]
    assert build_front(read_job(folder / "small.toml")).mark == saved.json()["mark"] == mark
    text = (folder / "small.toml").read_text()
    assert "# measured twice" in text
    assert "# what the maker says" in text
    again = page.post("/open", json={"name": "small.toml"}).json()
    assert again["settings"] == changed


def test_a_file_that_changed_since_is_not_written_over_without_asking(page: TestClient, folder: Path) -> None:
    found = page.get("/start").json()
    (folder / "small.toml").write_text(JOB.replace("floor = 8", "floor = 9"))
    asked = {"name": "small.toml", "text": found["text"], "settings": found["settings"], "hash": found["hash"]}
    refused = page.post("/save", json=asked)
    assert refused.status_code == 422
    assert "is there already, or was changed" in refused.json()["error"]
    assert "floor = 9" in (folder / "small.toml").read_text()
    assert page.post("/save", json=asked | {"over": True}).status_code == 200
    assert "floor = 8" in (folder / "small.toml").read_text()


@pytest.mark.parametrize(
    "name",
    [
        "../outside.toml",
        "/etc/passwd",
        "a/b.toml",
        "..",
        "",
        ".hidden.toml",
        "x.txt",
        "small.toml/",
        "a\\b.toml",
        "c" * 90 + ".toml",
        "a\nb.toml",
    ],
)
@pytest.mark.parametrize("what", ["open", "save", "build"])
def test_names_that_lead_out_of_the_folder_are_refused(what: str, name: str, page: TestClient, folder: Path) -> None:
    before = contents(folder.parent)
    answer = page.post(f"/{what}", json={"name": name, "text": "", "settings": SETTINGS, "hash": "", "over": True})
    assert answer.status_code == 422
    assert contents(folder.parent) == before


def test_a_link_out_of_the_folder_is_no_job_file(page: TestClient, folder: Path) -> None:
    (folder / "linked.toml").symlink_to(folder.parent / "outside.toml")
    assert page.post("/open", json={"name": "linked.toml"}).status_code == 422
    page.post("/save", json={"name": "linked.toml", "text": "", "settings": SETTINGS, "hash": "", "over": True})
    assert (folder.parent / "outside.toml").read_text() == JOB


@pytest.mark.parametrize("name", ["../secret.png", "/etc/passwd", "sub/../../secret.png"])
def test_a_job_reads_no_file_outside_the_folder(name: str, page: TestClient, folder: Path) -> None:
    (folder.parent / "secret.png").write_bytes(b"secret")
    settings = SETTINGS | {"layers": [{"kind": "grid", "file": name, "size": [100, 100]}]}
    for what in ("scene", "findings", "report", "build"):
        answer = page.post(f"/{what}", json={"settings": settings, "name": "x.toml", "text": ""})
        assert answer.status_code == 422
        assert "must be in the folder of the page" in answer.json()["error"]


# Refusing


@pytest.mark.parametrize("host", ["example.org", "127.0.0.1", f"127.0.0.1:{PORT + 1}", f"evil.example:{PORT}", ""])
def test_another_hosts_name_is_refused(host: str, page: TestClient) -> None:
    assert page.get("/start", headers={"Host": host}).status_code == 403


@pytest.mark.parametrize(
    "origin", ["http://example.org", "null", f"https://127.0.0.1:{PORT}", f"http://127.0.0.1:{PORT}.evil.example"]
)
def test_another_pages_request_is_refused(origin: str, page: TestClient, folder: Path) -> None:
    before = contents(folder)
    asked = {"name": "new.toml", "text": JOB, "settings": SETTINGS, "hash": ""}
    assert page.post("/save", json=asked, headers={"Origin": origin}).status_code == 403
    assert contents(folder) == before


def test_a_form_of_another_page_is_refused(page: TestClient) -> None:
    answer = page.post("/scene", content=b"{}", headers={"Content-Type": "text/plain"})
    assert answer.status_code == 415


def test_too_much_is_refused(page: TestClient) -> None:
    answer = page.post("/scene", content=b" " * (LARGEST_BODY + 1), headers={"Content-Type": "application/json"})
    assert answer.status_code == 413


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda job: job["wood"].update(floor=25), "`wood.floor` must be lower than the blank"),
        (lambda job: job["strips"].update(count="many"), "`strips.count`"),
        (lambda job: job["layers"][0].update(size=-4), "`layers[1].size`"),
        (lambda job: job["layers"][0].update(kind="lava"), "lava"),
        (lambda job: job.update(layers=[]), "`layers`"),
        (lambda job: job.update(front=7), "`front`"),
    ],
)
def test_a_bad_parameter_is_422_with_the_sentence_of_the_command_line(
    change: Callable, said: str, page: TestClient
) -> None:
    settings = json.loads(json.dumps(SETTINGS))
    change(settings)
    for what in ("scene", "findings"):
        answer = page.post(f"/{what}", json={"settings": settings})
        assert answer.status_code == 422
        assert said in answer.json()["error"]


@pytest.mark.parametrize(
    "body",
    [b"", b"[]", b"{", b"null", b'"x"', b"[" * 2000, b'{"settings": 3}', b'{"settings": {"layers": 3}}', b"\xff\xfe"],
)
def test_what_is_no_job_is_422_never_500(body: bytes, page: TestClient) -> None:
    for what in ("scene", "findings", "strip", "save", "build", "report"):
        answer = page.post(f"/{what}", content=body, headers={"Content-Type": "application/json"})
        assert answer.status_code == 422, (what, body)
        assert answer.json()["error"]


@pytest.mark.parametrize("name", ["../app.py", "%2e%2e/app.py", "page.py", "nothing.js", "..\\app.py"])
def test_only_the_pages_own_files_are_given(name: str, page: TestClient) -> None:
    assert page.get(f"/static/{name}").status_code == 404


def test_the_page_may_load_nothing_from_elsewhere(page: TestClient) -> None:
    answer = page.get("/")
    policy = answer.headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "http" not in policy
    assert answer.headers["X-Content-Type-Options"] == "nosniff"


# Builds and the report


def test_a_build_runs_to_its_end_and_comes_as_one_file(page: TestClient, folder: Path) -> None:
    number = page.post("/build", json={"name": "small.toml", "settings": SETTINGS, "text": COMMENTED}).json()["build"]
    for _ in range(600):
        found = page.get("/progress", params={"build": number}).json()
        if found["ended"]:
            break
        time.sleep(0.1)
    assert found["failed"] == ""
    assert (folder / "out" / "small" / "front.png").is_file()
    with zipfile.ZipFile(io.BytesIO(page.get("/pack", params={"build": number}).content)) as archive:
        assert "small/manifest.json" in archive.namelist()
        assert archive.testzip() is None
    assert page.get("/progress", params={"build": "none"}).status_code == 422


def test_a_text_of_settings_is_the_job_again() -> None:
    inches = 'unit = "in"\n' + JOB.replace("width = 203", 'width = "8 1/8 in" # by the rule').replace(
        "height = 160", "height = 6"
    ).replace("space = 3", "space = 0.1").replace("blank = 20", 'blank = "3/4 in"').replace(
        "floor = 8", 'floor = "3/8 in"'
    ).replace("size = 160", "size = 6")
    settings = plain(tomllib.loads(inches), Unit.INCH)
    assert text_of(inches, settings) == inches
    settings["layers"][0]["size"] = 5
    text = text_of(inches, settings)
    assert text == inches.replace("size = 6", "size = 5")
    settings["layers"].append({"kind": "waves", "trains": [{"length": 4, "direction": 10}]})
    del settings["layers"][0]
    again = text_of(text, settings)
    assert "# by the rule" in again
    assert plain(tomllib.loads(again), Unit.INCH) == settings


def test_very_many_strips_still_fit_a_graphics_card() -> None:
    front = build_front(
        make_job(
            SETTINGS
            | {
                "front": {"width": 30_000, "height": 3000},
                "strips": {"width": 20, "gap": 3},
                "limits": {"front_widest": 30_000},
            }
        )
    )
    columns, rows = grid_of(front, FINE)
    assert columns * front.count <= 8192
    assert columns * rows * front.count <= 2_100_000


def test_the_report_is_one_small_file_that_asks_for_nothing() -> None:
    import base64
    import re

    front = build_front(make_job(SETTINGS | {"title": "</script><b>doors"}))
    page = report(front).decode()
    assert len(page) < 2_000_000
    assert "http://" not in page.replace("http://www.w3.org", "")
    assert not re.search(r"(src|href)=", page)
    assert "</script><b>" not in page
    assert not re.search(r"^(import|export) ", page, re.MULTILINE)
    inside = re.search(r'id="scene">"([^"]+)"<', page)
    assert inside is not None
    data = base64.b64decode(inside[1])
    assert data == packed(front, FINE)
    assert scene_of(data)[0] == json.loads(json.dumps(about(front, *FINE)))


def test_the_report_of_a_wall_stays_below_two_megabytes() -> None:
    front = build_front(
        make_job(SETTINGS | {"front": {"width": 9000, "height": 2600}, "strips": {"width": 20, "gap": 3}})
    )
    assert len(report(front)) < 2_000_000


# What would break it


HALF = "half \ud83d"


@pytest.mark.parametrize("address", ["scene", "findings", "report"])
def test_half_a_letter_in_a_title_is_said_in_a_sentence(page: TestClient, address: str) -> None:
    """JSON can hold a lone surrogate; no answer can."""
    body = json.dumps({"settings": SETTINGS | {"title": HALF}, "number": 1})
    answer = page.post(f"/{address}", content=body, headers={"Content-Type": "application/json"})
    assert answer.status_code == 422
    assert answer.json()["error"] == "`title` holds half of a letter, which no file can keep: type it anew"


@pytest.mark.parametrize(
    ("address", "asked"),
    [
        ("save", {"name": "a.toml", "text": JOB + f"# {HALF}\n", "settings": SETTINGS, "hash": ""}),
        ("save", {"name": HALF, "text": JOB, "settings": SETTINGS, "hash": ""}),
        ("build", {"name": "a.toml", "text": JOB + f"# {HALF}\n", "settings": SETTINGS}),
        ("open", {"name": HALF}),
        ("open", {"preset": HALF}),
        ("strip", {"settings": SETTINGS, "number": HALF}),
        ("scene", {"settings": {HALF: HALF}}),
        ("scene", {"settings": SETTINGS | {"layers": [{"kind": "grid", "file": HALF}]}}),
        ("scene", {"settings": SETTINGS | {"layers": [{"kind": "grid", "file": "\0"}]}}),
        ("scene", {"settings": SETTINGS | {"layers": [{}] * 200_000}}),
        ("scene", {"settings": SETTINGS | {"x": "y" * 900_000}}),
        ("scene", {"settings": SETTINGS | {"y" * 900_000: 1}}),
        ("save", {"name": "a.toml", "text": JOB + "#" * 300_000, "settings": SETTINGS, "hash": ""}),
        ("save", {"name": "a.toml", "text": JOB + "a." * 60_000 + "a = 1", "settings": SETTINGS, "hash": ""}),
        ("save", {"name": "a.toml", "text": "front = 18,5", "settings": SETTINGS, "hash": ""}),
        ("save", {"name": "y" * 900_000, "text": JOB, "settings": SETTINGS, "hash": ""}),
    ],
)
def test_what_would_break_it_is_said_in_a_sentence(page: TestClient, folder: Path, address: str, asked: dict) -> None:
    before = contents(folder)
    answer = page.post(f"/{address}", content=json.dumps(asked), headers={"Content-Type": "application/json"})
    assert answer.status_code == 422
    said = answer.json()["error"]
    assert len(said) < 22 * 1000
    assert all(visible(line) == line for line in said.split("\n"))
    assert "must be JSON" not in said
    assert contents(folder) == before


def test_deep_json_is_refused(page: TestClient) -> None:
    for depth in (100, 100_000):
        body = '{"settings": {"lands": ' + "[" * depth + "]" * depth + "}}"
        assert page.post("/scene", content=body, headers={"Content-Type": "application/json"}).status_code == 422


def test_a_text_that_differs_from_the_settings_in_kind_is_saved_or_refused(page: TestClient) -> None:
    for text in (
        "layers = 3",
        "front = 1\nlayers = [1]",
        "[[front]]\nwidth = 1\n[[front]]\nwidth = 2\n",
        "layers = [{}, {}]",
    ):
        asked = {"name": "b.toml", "text": text, "settings": SETTINGS, "hash": "", "over": True}
        answer = page.post("/save", json=asked)
        assert answer.status_code in (200, 422)
        if answer.status_code == 200:
            assert page.post("/open", json={"name": "b.toml"}).json()["settings"] == SETTINGS


# Who may ask


ADDRESSES = ["", "static/page.js", "alive", "start", "files", "progress?build=x", "pack?build=x"]
ASKED = ["scene", "findings", "strip", "open", "save", "build", "report"]


@pytest.fixture
def bare(folder: Path) -> TestClient:
    """The same page, asked by one who does not put the secret into the address."""
    app = page_app(Shop(folder, folder / "small.toml"), PORT, SECRET)
    return TestClient(app, base_url=f"http://127.0.0.1:{PORT}", headers=HERE)


@pytest.mark.parametrize(
    "before", ["", f"{SECRET[:-1]}/", f"{SECRET}x/", "%ED%A0%BD/", f"static/{SECRET}/", f"{SECRET.upper()}/"]
)
def test_nothing_is_given_or_done_without_the_secret(bare: TestClient, folder: Path, before: str) -> None:
    kept = contents(folder)
    body = {"name": "small.toml", "text": JOB, "settings": SETTINGS, "hash": "", "over": True}
    answers = [bare.get(f"/{before}{address}") for address in ADDRESSES]
    answers += [bare.post(f"/{before}{address}", json=body) for address in ASKED]
    for answer in answers:
        assert answer.status_code == 403
        assert answer.json()["error"].startswith("this address lacks the page's secret: use the whole address")
        assert SECRET not in answer.text + str(answer.headers)
    assert contents(folder) == kept


def test_the_secret_stands_in_the_address_alone(page: TestClient, bare: TestClient) -> None:
    """Not in the page, nor its title, nor in what a link would tell another place."""
    for address in ADDRESSES:
        answer = page.get(f"/{address}")
        assert SECRET not in answer.text
        assert answer.headers["Referrer-Policy"] == "no-referrer"
        assert answer.headers["Cache-Control"] == "no-store"
    short = bare.get(f"/{SECRET}", follow_redirects=False)
    assert (short.status_code, short.headers["Location"]) == (307, f"/{SECRET}/")


def test_the_secret_is_the_users_own_and_stays_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    monkeypatch.setattr("platformdirs.user_config_path", lambda *given, **more: tmp_path / "facade")
    first = kept_secret()
    path = tmp_path / "facade" / "page-secret"
    assert len(first) == 32
    assert kept_secret() == first
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    path.chmod(0o644)
    second = kept_secret()
    assert second != first
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    path.write_text("short")
    assert kept_secret() not in ("short", first, second)


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_what_a_browser_asks_for_another_page_is_refused_on_get_too(page: TestClient, site: str) -> None:
    for address in ADDRESSES:
        for mode, destination in (
            ("no-cors", "image"),
            ("cors", "empty"),
            ("no-cors", "script"),
            ("navigate", "iframe"),
        ):
            sent = {"Sec-Fetch-Site": site, "Sec-Fetch-Mode": mode, "Sec-Fetch-Dest": destination}
            answer = page.get(f"/{address}", headers=sent)
            assert answer.status_code == 403
            assert answer.json()["error"] == "only the page itself may ask"
        assert page.get(f"/{address}", headers={"Origin": "http://example.org"}).status_code == 403


def test_a_link_may_open_the_page_and_nothing_else(page: TestClient) -> None:
    opened = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "document"}
    assert page.get("/", headers=opened).status_code == 200
    for address in ADDRESSES[1:]:
        assert page.get(f"/{address}", headers=opened).status_code == 403
    for site in ("same-origin", "none"):
        assert page.get("/alive", headers={"Sec-Fetch-Site": site}).status_code == 200


# Whatever is sent


def odd_values(random: Random) -> Any:
    """Return something that JSON can say, or almost."""
    plain = [
        None,
        True,
        0,
        -1,
        1e308,
        -0.0,
        10**400,
        float("nan"),
        float("inf"),
        "",
        "x",
        HALF,
        "\0",
        "../x.toml",
        "a" * 5000,
        [],
        {},
    ]
    kind = random.random()
    if kind < 0.6:
        return random.choice(plain)
    if kind < 0.8:
        return [odd_values(random) for _ in range(random.randint(1, 3))]
    return {
        random.choice(["kind", "size", "file", HALF, "x", "y" * 300]): odd_values(random)
        for _ in range(random.randint(1, 3))
    }


def odd_body(random: Random) -> bytes:
    body: dict[str, Any] = {
        "name": "odd.toml",
        "text": JOB,
        "settings": json.loads(json.dumps(SETTINGS)),
        "hash": "",
        "number": 1,
    }
    for _ in range(random.randint(1, 2)):
        table = random.choice([body, body, body["settings"]]) if isinstance(body.get("settings"), dict) else body
        if table is not body and random.random() < 0.6:
            inner = (
                [one for one in table.values() if isinstance(one, dict)]
                + [one for one in table.get("layers", []) if isinstance(one, dict)]
                if isinstance(table.get("layers"), list)
                else []
            )
            table = random.choice(inner) if inner else table
        table[random.choice([*table, "x"])] = odd_values(random)
    sent = json.dumps(body).encode()
    return sent if random.random() < 0.9 else sent[: random.randint(0, len(sent))] + b"\xff\x00"


@pytest.mark.parametrize("seed", range(12))
def test_no_body_whatever_it_is_breaks_the_server(
    page: TestClient, seed: int, capfd: pytest.CaptureFixture[str]
) -> None:
    random = Random(seed)
    for address in ("scene", "findings", "strip", "open", "save", "build", "report", "scene", "strip", "open"):
        body = odd_body(random)
        answer = page.post(f"/{address}", content=body, headers={"Content-Type": "application/json"})
        assert answer.status_code in (200, 413, 422), (address, body[:2000])
    assert capfd.readouterr().err == ""


NAMES = [
    "a" * 5000,
    "%00",
    "%ED%A0%BD.js",
    "..%2f..%2fapp.py",
    "page.js%00",
    ".",
    "..",
    "%20",
    "\u00e4.css",
    "CON",
    "page.js/",
    "/page.js",
    "%2e%2e",
]


@pytest.mark.parametrize("name", NAMES)
def test_no_address_whatever_it_is_breaks_the_server(
    page: TestClient, name: str, capfd: pytest.CaptureFixture[str]
) -> None:
    for address in (f"/static/{name}", f"/{name}", f"/pack?build={name}", f"/progress?{name}", f"/{name}/{name}"):
        answer = page.get(address)
        assert answer.status_code in (200, 403, 404, 422), address
        assert answer.headers["Referrer-Policy"] == "no-referrer"
    for method in ("PUT", "DELETE", "OPTIONS", "TRACE", "HEAD"):
        assert page.request(method, f"/static/{name}").status_code in (200, 403, 404, 405, 415)
    assert capfd.readouterr().err == ""


@pytest.mark.parametrize("place", ["folder", "pipe"])
def test_what_only_looks_like_a_job_file_is_said_in_a_sentence(page: TestClient, folder: Path, place: str) -> None:
    (folder / "odd.toml").mkdir() if place == "folder" else os.mkfifo(folder / "odd.toml")
    asked = {"name": "odd.toml", "text": JOB, "settings": SETTINGS, "hash": "", "over": True}
    for address in ("open", "save"):
        answer = page.post(f"/{address}", json=asked)
        assert answer.status_code == 422
        assert re.search("is a folder|plain file", answer.json()["error"])


@pytest.mark.parametrize("name", ["CON.toml", "hall .toml", "hall..toml", "lpt1.x.toml"])
@pytest.mark.parametrize("what", ["open", "save", "build"])
def test_names_that_not_every_system_can_hold_are_refused(what: str, name: str, page: TestClient, folder: Path) -> None:
    before = contents(folder)
    answer = page.post(f"/{what}", json={"name": name, "text": JOB, "settings": SETTINGS, "hash": ""})
    assert answer.status_code == 422
    assert "the job file's name must not" in answer.json()["error"]
    assert contents(folder) == before


@pytest.mark.parametrize("link", ["out", "out/small"])
def test_a_build_into_a_link_that_leads_out_of_the_folder_is_refused(page: TestClient, folder: Path, link: str) -> None:
    (folder.parent / "elsewhere").mkdir()
    (folder / link).parent.mkdir(exist_ok=True)
    (folder / link).symlink_to(folder.parent / "elsewhere")
    answer = page.post("/build", json={"name": "small.toml", "settings": SETTINGS, "text": JOB})
    assert answer.status_code == 422
    assert "must be a folder of its own" in answer.json()["error"]
    assert contents(folder.parent / "elsewhere") == {}


# Memory


def test_fronts_are_kept_by_their_bytes_and_the_newest_always() -> None:
    fronts = [build_front(make_job(SETTINGS | {"title": f"front {number}"})) for number in range(MOST + 3)]
    roomy = Fronts(10**9)
    for number, front in enumerate(fronts):
        roomy.keep(str(number), front)
    assert [number for number in range(len(fronts)) if roomy.get(str(number))] == list(range(3, MOST + 3))
    tight = Fronts(int(2.5 * bytes_of(fronts[0])))
    for number, front in enumerate(fronts):
        tight.keep(str(number), front)
        assert tight.bytes <= 2.5 * bytes_of(fronts[0])
    assert [number for number in range(len(fronts)) if tight.get(str(number))] == [MOST + 1, MOST + 2]
    none = Fronts(1)
    for number, front in enumerate(fronts):
        none.keep(str(number), front)
        assert none.get(str(number)) is front


def test_the_bytes_of_a_front_are_those_of_its_arrays_wherever_they_lie() -> None:
    """An array in a table, in an object, behind a view and in what a function remembers counts once each."""
    array = np.zeros(1_000_000)

    def remembers() -> float:
        return float(array[0])

    for holds in (array, [array], {"a": array[::2]}, remembers, (array, array, remembers)):
        assert bytes_of(holds) == pytest.approx(8_000_000, rel=0.01)
    front = build_front(make_job(SETTINGS))
    before = bytes_of(front)
    heights = sum(strip.heights.nbytes for strip in front.strips())
    assert before + heights <= bytes_of(front) < before + 2 * heights


# A real server


class Alone:
    """The program itself, what it prints, and its memory."""

    def __init__(self, folder: Path) -> None:
        job = folder / "small.toml"
        command = [sys.executable, "-m", "facade", "open", str(job), "--no-browser"]
        own = {**os.environ, "XDG_CONFIG_HOME": f"{folder}-settings"}
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=own)
        assert self.process.stdout is not None
        self.said = self.process.stdout.readline()
        found = re.search(r"http://127\.0\.0\.1:(\d+)/([\w-]{32})/", self.said)
        assert found is not None
        self.url, self.port, self.secret = found[0], int(found[1]), found[2]

    def ask(self, name: str, asked: dict) -> bytes:
        request = urllib.request.Request(
            f"{self.url}{name}", json.dumps(asked).encode(), {"Content-Type": "application/json"}
        )
        with urllib.request.urlopen(request) as answer:
            return answer.read()

    @property
    def memory(self) -> float:
        """What it holds, MB."""
        found = re.search(r"VmRSS:\s+(\d+) kB", Path(f"/proc/{self.process.pid}/status").read_text())
        assert found is not None
        return int(found[1]) / 1024

    def end(self) -> tuple[str, str]:
        self.process.send_signal(signal.SIGINT)
        return self.process.communicate()


@pytest.fixture
def alone(folder: Path) -> Iterator[Alone]:
    server = Alone(folder)
    yield server
    server.process.kill()
    server.process.communicate()


def test_a_client_that_leaves_in_mid_send_prints_nothing(alone: Alone) -> None:
    head = f"POST /{alone.secret}/scene HTTP/1.1\r\nHost: 127.0.0.1:{alone.port}\r\nContent-Type: application/json\r\n"
    body = json.dumps({"settings": SETTINGS, "fine": True}).encode()
    for sent in (
        head.encode(),  # in its head
        head.encode() + b"Content-Length: 500\r\n\r\n{",  # in its body
        head.encode() + f"Content-Length: {len(body)}\r\n\r\n".encode() + body,  # before the answer
        b"\x16\x03\x01\x00\xa5 no HTTP at all\r\n\r\n",
    ):
        for _ in range(3):
            with socket.create_connection(("127.0.0.1", alone.port)) as connection:
                connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
                connection.sendall(sent)
    assert scene_of(alone.ask("scene", {"settings": SETTINGS}))[0]["title"] == SETTINGS["title"]
    printed, wrong = alone.end()
    assert (printed, wrong) == ("", "")


def test_the_secret_is_printed_once_and_never_again(alone: Alone) -> None:
    """Nor does anyone else of this machine see it among the running programs."""
    alone.ask("findings", {"settings": SETTINGS})
    with pytest.raises(urllib.error.HTTPError, match="422"):
        alone.ask("scene", {"settings": 3})
    with pytest.raises(urllib.error.HTTPError, match="403"):
        urllib.request.urlopen(f"http://127.0.0.1:{alone.port}/start")
    command = Path(f"/proc/{alone.process.pid}/cmdline")
    assert not command.exists() or alone.secret.encode() not in command.read_bytes()
    assert alone.said.count(alone.secret) == 1
    assert alone.end() == ("", "")


SHOWS = """
import os, stat, sys, time
from pathlib import Path
from urllib.parse import unquote, urlparse
path = Path(unquote(urlparse(sys.argv[1]).path))
Path(os.environ["SHOWN"]).write_text(f"{sys.argv[1]} {stat.S_IMODE(path.stat().st_mode):o} {path.read_text()}")
"""


def test_a_browser_is_called_without_the_secret(folder: Path, tmp_path: Path) -> None:
    """What a program is called with everyone on the machine can read; a file of the user's own leads to the page."""
    (tmp_path / "browser.py").write_text(SHOWS)
    own = {**os.environ, "XDG_CONFIG_HOME": f"{folder}-settings", "SHOWN": str(tmp_path / "shown")}
    own["BROWSER"] = f"{sys.executable} {tmp_path / 'browser.py'} %s"
    command = [sys.executable, "-m", "facade", "open", str(folder / "small.toml")]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=own) as process:
        assert process.stdout is not None
        found = re.search(r"http://\S+", process.stdout.readline())
        assert found is not None
        while not (tmp_path / "shown").exists() or not (tmp_path / "shown").read_text().endswith("</a>"):
            time.sleep(0.05)
        process.send_signal(signal.SIGINT)
        process.communicate()
    called, mode, page = (tmp_path / "shown").read_text().split(" ", 2)
    assert called.startswith("file://")
    assert mode == "600"
    assert f"url={found[0]}" in page
    assert [path.name for path in folder.iterdir()] == ["small.toml"]


@pytest.mark.skipif(
    not Path("/proc/self/status").exists(), reason="the system does not tell how much memory a process holds"
)
def test_memory_is_given_back_after_large_fronts(alone: Alone, folder: Path) -> None:
    """Three fronts of a scan of 16 million heights, which takes 128 MB each time, take no more than one; small ones next to nothing."""
    rows = np.linspace(0.0, 3.0, 4000)
    np.save(folder / "scan.npy", np.sin(rows[:, None]) + np.cos(rows[None, :] * 2))
    alone.ask("scene", {"settings": SETTINGS})
    held = [alone.memory]
    for number in range(3):
        layer = {"kind": "grid", "file": "scan.npy", "stretch": 1 + number / 10}
        alone.ask("scene", {"settings": SETTINGS | {"layers": [layer]}, "fine": True})
        held.append(alone.memory)
    for number in range(2):
        alone.ask("scene", {"settings": SETTINGS | {"title": f"small {number}"}})
    before, first, _, third = held
    assert first - before > 120
    assert third - first < 0.5 * (first - before)
    assert alone.memory - before < 0.5 * (first - before)
