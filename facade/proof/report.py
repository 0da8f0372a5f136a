"""The report, read by lxml: the heights inside are the surface's, and nothing in it asks for anything."""

from __future__ import annotations

import base64
import json
from pathlib import Path

import numpy as np

from facade.proof.compared import Compared
from facade.proof.readers import reader
from facade.proof.truth import Truth

_PARTS = 65535  # of the blank's thickness, to which heights are rounded


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
    heights = np.frombuffer(data[4 + said :], dtype="<u2").reshape(about["rows"], -1) * (about["blank"] / _PARTS)
    places = truth.front.layout.strips
    share = np.linspace(0.0, 1.0, about["columns"])
    x = np.concatenate([place.left + share * place.width for place in places])
    y = np.linspace(places[0].bottom, places[0].top, about["rows"])
    if heights.shape != (len(y), len(x)):
        return [Compared(name, "", faults=(*faults, f"holds {heights.size} heights, not {len(x) * len(y)}"))]
    off = np.abs(heights - truth.front.surface.at(x[None, :], y[:, None]))
    allowed = about["blank"] / _PARTS / 2 + 1e-6
    worst = float(off.max())
    if worst > allowed:
        row, column = divmod(int(off.argmax()), len(x))
        place = places[column // about["columns"]]
        where = truth.length(place.top - float(y[row]))
        faults.append(f"is {truth.length(worst)} off the surface of strip {place.number}, {where} from the top")
    return [
        Compared(
            name,
            "the height of every place with the surface; mark; that it asks for nothing",
            points=off.size,
            deviation=worst,
            allowed=allowed,
            least=float(heights.min()),
            faults=tuple(dict.fromkeys(faults)),
        )
    ]
