"""The report of a front: the viewer with the heights inside, one file that opens from disk and asks for nothing."""

from __future__ import annotations

import base64
import json
import re
from html import escape
from importlib.resources import files

from facade.front import Front
from facade.viewing.scene import FINE, packed

_MOST = 900_000  # bytes of heights
_SCRIPTS = ("shaders.js", "viewer.js", "tools.js", "report.js")
_PLACE = re.compile(r"\{(title|mark|words|style|scene|script)\}")
_IMPORT = re.compile(r"^import .*?;\n", re.MULTILINE | re.DOTALL)
_EXPORT = re.compile(r"^export ", re.MULTILINE)


def report(front: Front) -> bytes:
    """Return the page as HTML."""
    columns, rows = FINE
    while columns * rows * front.count * 2 > _MOST and rows > 60:
        rows = rows * 3 // 4
    scene = base64.b64encode(packed(front, (columns, rows))).decode("ascii")
    script = "\n".join(_EXPORT.sub("", _IMPORT.sub("", _static(name))) for name in _SCRIPTS)
    found = {
        "title": escape(front.job.title),
        "mark": front.mark,
        "words": escape(_words(front)),
        "style": _static("look.css"),
        "scene": json.dumps(scene),
        "script": script,
    }
    return _PLACE.sub(lambda place: found[place[1]], _static("report.html")).encode("utf-8")


def _static(name: str) -> str:
    return (files("facade.viewing") / "static" / name).read_text("utf-8")


def _words(front: Front) -> str:
    show, strips = front.job.ruler.text, front.layout.strips
    return (
        f"{len(strips)} strips of {front.job.wood.species}, {show(strips[0].width, 3)} wide, on {show(front.layout.width)} by "
        f"{show(front.layout.height)}. Drag to turn, pinch or roll to come closer. Colours and figure are by eye."
    )
