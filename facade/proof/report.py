"""The report, read by lxml: the heights inside are the surface's, and nothing in it asks for anything."""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from facade.proof.anew import report_anew
from facade.proof.compared import Compared
from facade.proof.readers import reader
from facade.proof.truth import Truth
from facade.version import __version__

_PARTS = 65535  # of the blank's thickness, to which heights are rounded

_SCENE = re.compile(rb"(?<=id=\"scene\">)[^<]*")


@reader("front.html")
def compare_report(path: Path, name: str, truth: Truth) -> list[Compared]:
    """Compare every height in a report with the surface, to half of the part to which it is rounded."""
    from lxml import html

    root = html.parse(path).getroot()
    faults = [
        f"asks for {found}"
        for found in root.xpath("//@src | //link/@href | //a/@href")
        if not found.startswith("data:")
    ]
    data = base64.b64decode(json.loads(root.xpath("string(//script[@id='scene'])")))
    said = int.from_bytes(data[:4], "little")
    about = json.loads(data[4 : 4 + said])
    faults += truth.mark_faults(root.text_content()[:20_000]) + truth.mark_faults(f"mark {about['mark']}")
    faults += [
        f"says {key} {str(about.get(key))[:60]}, not {str(value)[:60]}"
        for key, value in _wanted(truth).items()
        if about.get(key) != value
    ]
    faults += _page_faults(path, root, about, truth)
    heights = np.frombuffer(data[4 + said :], dtype="<u2").reshape(about["rows"], -1) * (
        truth.front.job.wood.blank / _PARTS
    )
    places = truth.front.layout.strips
    share = np.linspace(0.0, 1.0, about["columns"])
    x = np.concatenate([place.left + share * place.width for place in places])
    y = np.linspace(places[0].bottom, places[0].top, about["rows"])
    if heights.shape != (len(y), len(x)):
        return [Compared(name, "", faults=(*faults, f"holds {heights.size} heights, not {len(x) * len(y)}"))]
    off = np.abs(heights - truth.front.surface.at(x[None, :], y[:, None]))
    allowed = truth.front.job.wood.blank / _PARTS / 2 + 1e-6
    worst = float(off.max())
    if worst > allowed:
        row, column = divmod(int(off.argmax()), len(x))
        place = places[column // about["columns"]]
        where = truth.length(place.top - float(y[row]))
        faults.append(f"is {truth.length(worst)} off the surface of strip {place.number}, {where} from the top")
    return [
        Compared(
            name,
            "the height of every place with the surface; sizes, places, wood and light; its page; that it asks for nothing",
            points=off.size,
            deviation=worst,
            allowed=allowed,
            least=float(heights.min()),
            faults=tuple(dict.fromkeys(faults)),
        )
    ]


def _wanted(truth: Truth) -> dict[str, Any]:
    """Return what a report should say of the front besides its heights, lengths in mm."""
    job, layout = truth.front.job, truth.front.layout
    return {
        "title": job.title,
        "unit": job.unit.value,
        "blank": job.wood.blank,
        "width": layout.width,
        "height": layout.height,
        "bottom": layout.strips[0].bottom,
        "top": layout.strips[0].top,
        "strips": [[strip.left, strip.right, strip.door] for strip in layout.strips],
        "doors": [[door.left, door.right, door.bottom, door.top] for door in layout.doors],
    }


def _page_faults(path: Path, root: Any, about: dict[str, Any], truth: Truth) -> Iterator[str]:
    """Yield what is wrong with wood, light, words, look and script, which are those of the same version made anew."""
    if truth.manifest.get("made_by") != f"facade {__version__}":
        return
    from lxml import html

    anew = report_anew(truth)
    other = html.fromstring(anew)
    scene = base64.b64decode(json.loads(other.xpath("string(//script[@id='scene'])")))
    wanted = json.loads(scene[4 : 4 + int.from_bytes(scene[:4], "little")])
    yield from (f"has other {key} than the job asks for" for key in ("wood", "light") if about.get(key) != wanted[key])
    if _SCENE.sub(b"", path.read_bytes()) != _SCENE.sub(b"", anew):
        part = next(
            (one for one in ("title", "body", "style", "script") if _text(root, one) != _text(other, one)), "page"
        )
        yield f"its {part} is not what this version writes"


def _text(root: Any, part: str) -> str:
    said = root.xpath(f"//{part}[not(@id='scene')]")
    return "".join(
        one.text_content() if part != "body" else "".join(one.xpath(".//text()[not(ancestor::script)]")) for one in said
    )
