"""The live page in a browser: what is turned is what is painted, checked and saved; by hand, by keys, on a phone, through trouble."""

from __future__ import annotations

import io
import math
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from browsing import ARGUMENTS, CHROMIUM, Served
from PIL import Image
from playwright.sync_api import Browser, Page, expect, sync_playwright
from test_build import JOB

from facade.checks import check_front
from facade.front import Front, build_front
from facade.job import make_job, read_job
from facade.screen import verdict
from facade.viewing.report import report

CHECKED = "body[data-checked]:not([data-checked=''])"


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        found = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield found
        found.close()


@pytest.fixture(scope="module")
def serving(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    job = tmp_path_factory.mktemp("shop") / "small.toml"
    job.write_text(JOB)
    served = Served(job)
    yield served
    served.stop()


@pytest.fixture
def served(serving: Served) -> Served:
    serving.job.write_text(JOB)
    return serving


@pytest.fixture
def page(served: Served, browser: Browser) -> Iterator[Page]:
    """A page that has been painted and checked; nothing is asked from elsewhere, nothing goes wrong in it."""
    wrong: list[str] = []
    page = browser.new_page(viewport={"width": 1300, "height": 860})
    page.on("console", lambda message: wrong.append(message.text) if message.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on(
        "request",
        lambda request: (
            wrong.append(request.url) if not request.url.startswith((served.url, "data:", "blob:")) else None
        ),
    )
    opened(page, served.url)
    yield page
    page.close()
    assert [one for one in wrong if "422" not in one and "GPU stall" not in one] == []


def opened(page: Page, url: str) -> None:
    page.goto(url)
    page.wait_for_selector(CHECKED)
    page.wait_for_selector("#view[data-painted]")


def rested(page: Page) -> None:
    """Wait until what was changed is painted finely and checked."""
    page.wait_for_selector("body[data-fine='true']")
    page.wait_for_selector(CHECKED)


def settings_of(page: Page) -> dict:
    return page.evaluate("() => window.facade.page.settings")


def front_of(page: Page) -> Front:
    return build_front(make_job(settings_of(page)))


def slider(page: Page, label: str):  # type: ignore[no-untyped-def]
    return page.get_by_role("slider", name=label, exact=True).first


def turn(page: Page, label: str, times: int = 6, key: str = "ArrowRight") -> None:
    made = slider(page, label)
    made.focus()
    for _ in range(times):
        made.press(key)
    rested(page)


def unfolded(page: Page, name: str) -> None:
    page.locator(f"details[data-name={name}]").evaluate("(made) => { made.open = true; }")


def painted(page: Page) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(page.locator("#view").screenshot())).convert("L")).astype(float)


def heights_on(page: Page) -> tuple[np.ndarray, dict]:
    found = page.evaluate(
        "() => ({ about: window.facade.page.scene.about, heights: Array.from(window.facade.page.scene.heights) })"
    )
    about = found["about"]
    return np.array(found["heights"]).reshape(about["rows"], -1) * (about["blank"] / 65535), about


def test_a_slider_changes_what_is_painted_to_the_surface(page: Page) -> None:
    before, mark = painted(page), page.inner_text("#mark")
    turn(page, "size, mm")
    assert settings_of(page)["layers"][0]["size"] != 160
    heights, about = heights_on(page)
    front = front_of(page)
    y = np.linspace(about["bottom"], about["top"], about["rows"])
    for index, (left, right, _) in enumerate(about["strips"]):
        x = np.linspace(left, right, about["columns"])
        found = heights[:, index * about["columns"] : (index + 1) * about["columns"]]
        assert np.abs(found - front.surface.at(x[None, :], y[:, None])).max() < 0.001
    assert page.inner_text("#mark") == front.mark != mark
    assert np.abs(painted(page) - before).mean() > 1.0


def test_findings_and_numbers_are_the_command_lines(page: Page) -> None:
    for _ in range(2):
        findings = check_front(front_of(page))
        assert page.inner_text("#verdict") == verdict(findings)
        said = page.locator("#findings li").all_inner_texts()
        assert len(said) == len(findings)
        for finding in findings:
            assert any(finding.sentence in one for one in said)
        unfolded(page, "wood")
        box = page.get_by_role("spinbutton", name="floor, mm").first
        box.fill("4")
        box.press("Enter")
        rested(page)
    assert "stop" in page.inner_text("#verdict")


def test_saved_and_loaded_again_it_has_the_same_mark(page: Page, served: Served) -> None:
    turn(page, "size, mm")
    page.click("#show-files")
    page.get_by_role("button", name="Save", exact=True).click()
    page.wait_for_selector("body[data-saved]")
    mark = page.inner_text("#mark")
    assert build_front(read_job(served.job)).mark == mark
    page.goto("about:blank")
    opened(page, served.url)
    assert page.inner_text("#mark") == mark


def test_a_file_that_changed_is_written_over_only_when_asked(page: Page, served: Served) -> None:
    served.job.write_text(JOB.replace("floor = 8", "floor = 9"))
    page.click("#show-files")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#saved")).to_contain_text("is there already, or was changed")
    assert "floor = 9" in served.job.read_text()
    page.get_by_role("button", name="Save over it").click()
    page.wait_for_selector("body[data-saved]")
    assert "floor = 8" in served.job.read_text()


def test_the_address_holds_the_design(page: Page, served: Served, browser: Browser) -> None:
    turn(page, "size, mm", 4)
    page.get_by_role("button", name="30 degrees right").click()
    page.wait_for_timeout(500)
    other = browser.new_page()
    opened(other, page.url)
    assert settings_of(other) == settings_of(page)
    assert other.evaluate("() => window.facade.viewer.eye.turn") == pytest.approx(math.pi / 6)
    assert other.inner_text("#mark") == page.inner_text("#mark")
    other.close()


def test_undo_and_redo(page: Page) -> None:
    first = settings_of(page)
    turn(page, "size, mm", 1)
    changed = settings_of(page)
    page.click("#undo")
    rested(page)
    assert settings_of(page) == first
    assert page.inner_text("#mark") == build_front(make_job(first)).mark
    page.locator("#view").focus()
    page.keyboard.press("Control+y")
    rested(page)
    assert settings_of(page) == changed
    page.keyboard.press("Control+z")
    rested(page)
    assert settings_of(page) == first


def test_layers_are_added_moved_and_removed(page: Page) -> None:
    page.get_by_role("button", name="Add a layer").click()
    rested(page)
    page.get_by_label("kind of relief").nth(1).select_option("waves")
    rested(page)
    assert [layer["kind"] for layer in settings_of(page)["layers"]] == ["hills", "waves"]
    page.get_by_role("button", name="Up").nth(1).click()
    rested(page)
    assert [layer["kind"] for layer in settings_of(page)["layers"]] == ["waves", "hills"]
    assert page.inner_text("#mark") == front_of(page).mark
    page.get_by_role("button", name="Remove").last.click()
    rested(page)
    unfolded(page, "lands")
    page.get_by_role("button", name="Add a land").click()
    rested(page)
    assert len(settings_of(page)["lands"]) == 1
    assert page.inner_text("#mark") == front_of(page).mark


def test_a_bad_value_is_said_in_the_sentence_of_the_command_line_and_can_be_undone(page: Page) -> None:
    box = page.get_by_role("spinbutton", name="size, mm, as a number").first
    box.fill("-5")
    box.press("Enter")
    expect(page.locator("#notice")).to_contain_text("`layers[1].size` must be")
    page.click("#undo")
    rested(page)
    expect(page.locator("#notice")).to_be_hidden()


def test_a_finding_brings_the_eye_to_its_place(page: Page) -> None:
    unfolded(page, "wood")
    box = page.get_by_role("spinbutton", name="floor, mm").first
    box.fill("4")
    box.press("Enter")
    rested(page)
    finding = next(one for one in check_front(front_of(page)) if one.strip and one.from_top is not None)
    page.locator("#findings button", has_text=finding.sentence).first.click()
    eye, about = page.evaluate("() => [window.facade.viewer.eye, window.facade.page.scene.about]")
    left = about["strips"][finding.strip - 1][0]  # type: ignore[operator]
    assert eye["y"] == pytest.approx(about["top"] - finding.from_top)
    assert eye["x"] == pytest.approx(left + finding.from_left) if finding.from_left is not None else eye["x"] > left
    expect(page.locator("#spot")).to_be_visible()
    expect(page.locator("#strip")).to_contain_text(f"Strip {finding.strip}")


def test_a_strip_shows_its_sides_and_offsets(page: Page) -> None:
    page.locator("#strips-box summary").click()
    page.get_by_role("button", name="strip 5", exact=True).click()
    expect(page.locator("#strip h2")).to_have_text("Strip 5, door 2")
    assert page.locator("#strip svg").count() == 2
    assert page.locator("#strip tbody tr").count() >= 7
    box = page.locator("#view").bounding_box()
    assert box is not None
    x, y = page.evaluate(
        "() => { const a = window.facade.page.scene.about, [l, r] = a.strips[1]; return window.facade.viewer.placeOn((l + r) / 2, a.height / 2, 14); }"
    )
    page.mouse.click(box["x"] + x, box["y"] + y)
    expect(page.locator("#strip h2")).to_have_text("Strip 2, door 1")


def test_one_is_kept_and_put_beside_another(page: Page) -> None:
    first = settings_of(page)
    page.get_by_role("button", name="Keep this one").click()
    turn(page, "size, mm")
    alone = painted(page)
    page.get_by_role("button", name="Beside A").click()
    expect(page.locator("#sides")).to_be_visible()
    page.wait_for_timeout(300)
    half = painted(page)
    assert np.abs(half - alone).mean() > 1.0
    page.get_by_role("button", name="Alone again").click()
    page.get_by_role("button", name="Take A").click()
    rested(page)
    assert settings_of(page) == first


def test_light_and_eye_change_the_picture_and_not_the_design(page: Page) -> None:
    mark, before = page.inner_text("#mark"), painted(page)
    count = page.get_attribute("#view", "data-painted")
    page.get_by_label("try the light").select_option("flat from the front")
    page.wait_for_selector(f"#view:not([data-painted='{count}'])")
    flat = painted(page)
    wood = slice(flat.shape[0] // 3, 2 * flat.shape[0] // 3), slice(flat.shape[1] // 3, 2 * flat.shape[1] // 3)
    assert np.abs(flat - before)[wood].mean() > 2.0
    page.get_by_role("button", name="60 degrees right").click()
    page.wait_for_timeout(200)
    assert np.abs(painted(page) - flat).mean() > 2.0
    assert page.inner_text("#mark") == mark


def test_all_by_keys(page: Page) -> None:
    """Tab comes to every control; arrow keys turn a slider and the view; Enter opens the files."""
    page.keyboard.press("Tab")
    seen = set()
    for _ in range(40):
        seen.add(
            page.evaluate(
                "() => document.activeElement.id || document.activeElement.textContent || document.activeElement.type"
            )
        )
        page.keyboard.press("Tab")
    assert "show-files" in seen
    assert any(name.startswith("field-") for name in seen)
    page.locator("#view").focus()
    eye = page.evaluate("() => window.facade.viewer.eye.turn")
    page.keyboard.press("ArrowRight")
    assert page.evaluate("() => window.facade.viewer.eye.turn") != eye
    away = page.evaluate("() => window.facade.viewer.eye.away")
    page.keyboard.press("+")
    assert page.evaluate("() => window.facade.viewer.eye.away") < away
    page.locator("#show-files").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#file-choice")).to_be_focused()


@pytest.mark.parametrize("width", [390, 820, 1300])
def test_nothing_is_wider_than_the_screen(page: Page, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 800})
    page.click("#show-files")
    page.wait_for_timeout(200)
    assert page.evaluate("() => document.documentElement.scrollWidth") <= width
    box = page.locator("#view").bounding_box()
    assert box is not None
    assert box["y"] < 400
    assert box["width"] > 0.45 * width
    assert box["height"] > 300


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_rules_of_accessibility(page: Page, scheme: str) -> None:
    page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
    page.click("#show-files")
    page.locator("#strips-box summary").click()
    page.get_by_role("button", name="strip 3", exact=True).click()
    page.wait_for_selector("#strip h2")
    for one in page.locator("#controls details").all():
        one.evaluate("(made) => { made.open = true; }")
    found = [one for one in Axe().run(page).response["violations"] if one["impact"] in ("serious", "critical")]
    assert [(one["id"], one["nodes"][0]["html"]) for one in found] == []


def test_ten_thousand_fast_slider_events_leave_a_live_page(page: Page) -> None:
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    slider(page, "size, mm").evaluate(
        """(made) => {
          const [low, high] = [Number(made.min), Number(made.max)];
          for (let index = 0; index < 10000; index += 1) {
            made.value = low + (high - low) * ((index * 7919) % 1000) / 1000;
            made.dispatchEvent(new Event("input", { bubbles: true }));
          }
          made.value = (low + high) / 2;
          made.dispatchEvent(new Event("input", { bubbles: true }));
          made.dispatchEvent(new Event("change", { bubbles: true }));
        }"""
    )
    rested(page)
    assert page.inner_text("#mark") == front_of(page).mark
    assert len(asked) < 50
    turn(page, "size, mm", 2)
    assert page.inner_text("#mark") == front_of(page).mark


def test_a_server_that_is_killed_and_comes_back(tmp_path: Path, browser: Browser) -> None:
    job = tmp_path / "small.toml"
    job.write_text(JOB)
    served = Served(job)
    page = browser.new_page()
    opened(page, served.url)
    served.stop()
    made = slider(page, "size, mm")
    made.focus()
    made.press("ArrowRight")
    expect(page.locator("#notice")).to_contain_text("has stopped answering")
    kept = settings_of(page)
    served.again()
    expect(page.locator("#notice")).to_be_hidden(timeout=15_000)
    rested(page)
    assert settings_of(page) == kept
    assert page.inner_text("#mark") == front_of(page).mark
    page.close()
    served.stop()


def test_a_build_is_followed_to_its_pack(page: Page, served: Served) -> None:
    page.click("#show-files")
    page.get_by_role("button", name="Build all files").click()
    link = page.get_by_role("link", name="Download all of it")
    link.wait_for(timeout=60_000)
    with page.expect_download() as download:
        link.click()
    assert download.value.suggested_filename.endswith(".zip")
    assert (served.job.parent / "out" / "small" / "manifest.json").is_file()


def test_the_report_opens_from_disk_and_asks_for_nothing(tmp_path: Path, browser: Browser) -> None:
    path = tmp_path / "front.html"
    path.write_bytes(report(build_front(make_job(tomllib.loads(JOB)))))
    asked: list[str] = []
    page = browser.new_page(viewport={"width": 390, "height": 800})
    page.on("request", lambda request: asked.append(request.url))
    page.on("pageerror", lambda error: asked.append(str(error)))
    page.goto(path.as_uri())
    page.wait_for_selector("#view[data-painted]")
    before = painted(page)
    page.get_by_role("button", name="60 degrees right").click()
    page.wait_for_timeout(200)
    assert np.abs(painted(page) - before).mean() > 2.0
    assert page.evaluate("() => document.documentElement.scrollWidth") <= 390
    assert asked == [path.as_uri()]
    assert re.search(r"Mark [0-9A-Z]{4}-[0-9A-Z]{4}", page.inner_text("header"))
    page.close()
