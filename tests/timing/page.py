"""How fast the live page is; never part of the test suite.

    python tests/timing/page.py

The bench front, 1.2 x 0.7 m, 54 strips: from the command to the open port, the server's part of a slider's step, and from a slider's step to
the heights being on the graphics card, painting left out (a machine without a card paints slowly); then the report and its size.
"""

from __future__ import annotations

import json
import statistics
import sys
import tempfile
import time
import tomllib
import urllib.request
from pathlib import Path

from build import BENCH

sys.path.insert(0, str(Path(__file__).parent.parent))

from browsing import ARGUMENTS, CHROMIUM, Served

from facade.front import build_front
from facade.job import make_job
from facade.viewing.report import report

_STEPS = """async () => {
  const { page, viewer, change } = window.facade, took = [];
  viewer.paint = () => {};
  for (let index = 0; index < 60; index += 1) {
    const before = page.scene, began = performance.now();
    change(["layers", 0, "size"], 300 + index * 3, false);
    await new Promise((done) => {
      const channel = new MessageChannel();
      channel.port1.onmessage = () => (page.scene === before ? channel.port2.postMessage(0) : done());
      channel.port2.postMessage(0);
    });
    took.push(performance.now() - began);
  }
  return took;
}"""


def told(name: str, seconds: list[float]) -> None:
    """Print least, middle and greatest, ms."""
    ms = sorted(1000 * one for one in seconds)
    print(f"{name:<44} {ms[0]:7.1f} {statistics.median(ms):7.1f} {ms[-1]:7.1f} ms")


def server_part(url: str, settings: dict) -> list[float]:
    """Return the seconds of scenes, each of another size of relief."""
    took = []
    for index in range(40):
        settings["layers"][0]["size"] = 310 + index
        request = urllib.request.Request(
            f"{url}scene",
            json.dumps({"settings": settings, "fine": False}).encode(),
            {"Content-Type": "application/json"},
        )
        began = time.perf_counter()
        with urllib.request.urlopen(request) as answer:
            answer.read()
        took.append(time.perf_counter() - began)
    return took


def main() -> None:
    text = BENCH.format(width=1200, height=700, edge=7, step=1)
    with tempfile.TemporaryDirectory() as folder:
        job = Path(folder) / "bench.toml"
        job.write_text(text, "utf-8")
        print(f"{'':<44} {'least':>7} {'middle':>7} {'most':>7}")
        starts = []
        for _ in range(5):
            began = time.perf_counter()
            served = Served(job)
            starts.append(time.perf_counter() - began)
            served.stop()
        told("from the command to the open port", starts)
        served = Served(job)
        told("the server's part of a slider's step", server_part(served.url, tomllib.loads(text)))
        if CHROMIUM:
            from playwright.sync_api import sync_playwright

            with sync_playwright() as playwright:
                browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
                page = browser.new_page()
                page.goto(served.url)
                page.wait_for_selector("body[data-checked]:not([data-checked=''])", timeout=60_000)
                told("a slider's step to heights on the card", [ms / 1000 for ms in page.evaluate(_STEPS)])
                browser.close()
        served.stop()
        front = build_front(make_job(tomllib.loads(text)))
        began = time.perf_counter()
        size = len(report(front))
        told(f"report, {size / 1e6:.2f} MB", [time.perf_counter() - began])


if __name__ == "__main__":
    main()
