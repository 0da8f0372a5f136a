"""The letters of PDFs: which glyph of the face in `fonts/` each is, how wide it is, and the face cut down to those that are used.

What sheets nearly always say is cut beforehand (`tests/make_faces.py`); a glyph keeps the number that it has in the whole face.
"""

from __future__ import annotations

import io
import json
from collections.abc import Iterable
from functools import cache, cached_property
from pathlib import Path
from typing import Any

FONTS = Path(__file__).parent.parent / "fonts"
CUT = Path(__file__).parent / "faces"
STYLES = {"plain": "DejaVuSans.ttf", "bold": "DejaVuSans-Bold.ttf"}
# Glyphs are measured in so many parts of the type's height in a PDF (ISO 32000-1, 9.2.4).
PARTS = 1000
# Latin, Greek, Cyrillic, punctuation, arrows and signs: each letter is one glyph, in its order. Other scripts join letters, or run
# the other way, which is not for us to do.
_ONE_BY_ONE = ((0x20, 0x24F), (0x370, 0x4FF), (0x2010, 0x2027), (0x2030, 0x203A), (0x2190, 0x21FF), (0x2200, 0x22FF))

Glyph = tuple[int, int]
"""The number of a glyph in the whole face, and how wide it is, in parts of the type's height."""


class Lacking(Exception):
    """The face has no glyph for a letter, or it is not for us to set."""


class Whole:
    """The whole face of a style, read when it is asked for a letter."""

    def __init__(self, style: str) -> None:
        self.style = style

    @cached_property
    def _font(self) -> Any:
        from fontTools.ttLib import TTFont  # type: ignore[import-untyped, unused-ignore]

        return TTFont(FONTS / STYLES[self.style], lazy=True)

    @cached_property
    def _codes(self) -> dict[str, int]:
        """The lowest code of each glyph: a reader finds only that again."""
        codes: dict[str, int] = {}
        for code, name in self._font.getBestCmap().items():
            codes[name] = min(code, codes.get(name, code))
        return {name: code for name, code in codes.items() if any(low <= code <= high for low, high in _ONE_BY_ONE)}

    @cached_property
    def _names(self) -> dict[str, str]:
        return {chr(code): name for name, code in self._codes.items()}

    def __contains__(self, letter: str) -> bool:
        return letter in self._names

    def __getitem__(self, letter: str) -> Glyph:
        """Return the glyph of a letter; raises Lacking."""
        if letter not in self:
            raise Lacking(letter)
        name, unit = self._names[letter], self._font["head"].unitsPerEm
        return self._font.getGlyphID(name), round(self._font["hmtx"][name][0] * PARTS / unit)

    @property
    def measures(self) -> dict[str, Any]:
        """Return what a PDF says of a face: its name, and in parts of the type's height its box, ascent, descent, capitals and stems."""
        font, outlines = self._font, self._font["glyf"]
        head, lines = font["head"], font["hhea"]
        named = {
            "ascent": lines.ascent,
            "descent": lines.descent,
            "capitals": outlines["H"].yMax,
            # The stroke of an l is all that it is wide.
            "stem": outlines["l"].xMax - outlines["l"].xMin,
        }
        scaled = {name: round(value * PARTS / head.unitsPerEm) for name, value in named.items()}
        box = [round(value * PARTS / head.unitsPerEm) for value in (head.xMin, head.yMin, head.xMax, head.yMax)]
        return {"name": font["name"].getDebugName(6), "box": box, **scaled}

    def cut(self, letters: Iterable[str]) -> bytes:
        """Return the face with the glyphs of these letters alone, without what only sharpens them on coarse screens."""
        from fontTools.subset import Options, Subsetter  # type: ignore[import-untyped, unused-ignore]
        from fontTools.ttLib import TTFont

        options = Options(retain_gids=True, hinting=False, notdef_outline=True, layout_features=[])
        options.drop_tables += ["GDEF", "GPOS", "GSUB", "name", "post", "OS/2", "FFTM", "MATH", "kern", "gasp"]
        font = TTFont(FONTS / STYLES[self.style], recalcTimestamp=False)
        subsetter = Subsetter(options)
        subsetter.populate(unicodes=[ord(letter) for letter in letters])
        subsetter.subset(font)
        # A PDF names glyphs by their numbers.
        del font["cmap"]
        file = io.BytesIO()
        font.save(file)
        return file.getvalue()


class Face(dict[str, Glyph]):
    """The glyphs of a style by letter: the usual ones are there, others come from the whole face, or raise Lacking."""

    def __init__(self, style: str) -> None:
        known = json.loads((CUT / f"{style}.json").read_text("utf-8"))
        super().__init__({letter: (number, width) for letter, (number, width) in known["letters"].items()})
        self.style = style
        self.measures: dict[str, Any] = known["measures"]
        self.usual = frozenset(self)
        self._whole = Whole(style)

    def __missing__(self, letter: str) -> Glyph:
        glyph = self._whole[letter]
        self[letter] = glyph
        return glyph

    def data(self, letters: Iterable[str]) -> tuple[bytes, dict[str, Glyph]]:
        """Return the face cut down to what these letters need, and more, and the glyphs that it has."""
        more = frozenset(letters) - self.usual
        known = {letter: self[letter] for letter in sorted(self.usual | more)}
        return (self._whole.cut(known) if more else (CUT / f"{self.style}.ttf").read_bytes()), known


@cache
def face(style: str) -> Face:
    """Return a face, read once."""
    return Face(style)
