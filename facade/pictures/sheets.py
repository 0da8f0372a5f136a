"""Sheets of pictures of one front: under six lights, and from where people stand; a detail at full size."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from PIL import Image, PngImagePlugin

from facade.checks.looks import see_in_angle
from facade.drawing import printable
from facade.errors import mistake
from facade.front import Front
from facade.job.model import LightFrom, Picture
from facade.lengths import MM_PER_INCH
from facade.pictures.aside import DISTANCE, eye_of, seen
from facade.pictures.canvas import Frame, frame_for
from facade.pictures.elevation import elevation
from facade.pictures.front import painted
from facade.pictures.lights import light_words
from facade.pictures.plot import MAKER, Page, font, wrapped
from facade.processes import shared_out

SIX = (
    LightFrom.LEFT,
    LightFrom.RIGHT,
    LightFrom.CEILING,
    LightFrom.STRIP_ABOVE,
    LightFrom.STRIP_BELOW,
    LightFrom.FRONT,
)
ASIDE = (0.0, 20.0, 45.0, 60.0)
_MARGIN, _GAP, _HEAD = 40, 28, 100
_TITLE, _WORDS = 34, 24
_LINE = 31
_FLAT = 1.15  # a contrast that is hardly seen
_AROUND = 90.0  # mm beyond a detail from which shadows may fall into it
_DETAIL_DPI = 200
_DETAIL = (120.0, 90.0)  # mm, width and height


@dataclass(frozen=True)
class _Tile:
    """A picture and the words under it."""

    image: Image.Image
    words: str


def lights_sheet(front: Front, width: int = 2000) -> bytes:
    """Return a PNG of the front under six lights at one scale, with what each makes of the relief under it."""
    size = (width - 2 * _MARGIN - 2 * _GAP) // 3
    tiles = list(shared_out(_lit, [(front, size, light) for light in SIX]))
    return _sheet(front, "Six lights", tiles, width)


def _lit(work: tuple[Front, int, LightFrom]) -> _Tile:
    front, size, light = work
    picture = front.job.picture.model_copy(update={"light": light, "light_turn": 0.0})
    found = painted(front, frame_for(front.layout, size), picture)
    words = f"{light_words(picture)}. Bright slopes to dark ones {found.contrast:.1f} : 1"
    if found.contrast < _FLAT:
        words += ": the relief is hardly seen"
    return _Tile(Image.fromarray(found.pixels), words[0].upper() + words[1:] + ".")


def aside_sheet(front: Front, width: int = 2000, posture: str = "standing") -> bytes:
    """Return a PNG of the front as somebody sees it who stands, or sits, more and more to the right of it."""
    size = (width - 2 * _MARGIN - 3 * _GAP) // 4
    tiles = list(shared_out(_aside, [(front, size, aside, posture) for aside in ASIDE]))
    return _sheet(front, f"Seen from aside, {posture}, {DISTANCE / 1000:g} m away", tiles, width)


def _aside(work: tuple[Front, int, float, str]) -> _Tile:
    front, size, aside, posture = work
    # Painted larger than it is shown, so that slanting edges are smooth.
    image = seen(front, frame_for(front.layout, 2 * size), front.job.picture, eye_of(front, aside, posture))
    image = image.resize((max(2, image.width // 2), max(2, image.height // 2)), Image.Resampling.LANCZOS)
    return _Tile(image, _aside_words(front, aside))


def _aside_words(front: Front, aside: float) -> str:
    """Say how far aside an eye is, and whether it still sees between the strips: by the narrowest wall, which lets most in."""
    if not aside:
        return "Straight on."
    strips = front.layout.strips
    gaps = [other.left - one.right for one, other in pairwise(strips) if one.door == other.door]
    most = see_in_angle(max(gaps), front.surface.floor) if gaps else 0.0
    closed = ": the backs of the gaps are nowhere seen, the sides of the strips are" if aside > most else ""
    return f"{aside:g} degrees aside{closed}."


def _sheet(front: Front, head: str, tiles: Sequence[_Tile], width: int) -> bytes:
    columns = 3 if len(tiles) == 6 else len(tiles)
    size = (width - 2 * _MARGIN - (columns - 1) * _GAP) // columns
    lines = [wrapped(tile.words, _WORDS, size) for tile in tiles]
    high = max(tile.image.height for tile in tiles)
    tall = high + _LINE * max(map(len, lines)) + _GAP
    page = Page(width, _HEAD + tall * -(-len(tiles) // columns) + _MARGIN, colours=True)
    page.words(_title(front, width), _MARGIN, _MARGIN - 14, _TITLE, bold=True)
    page.words(f"{head}. Mark {front.mark}", width - _MARGIN, _MARGIN - 8, _WORDS, anchor="ra")
    for index, (tile, said) in enumerate(zip(tiles, lines, strict=True)):
        x, y = _MARGIN + index % columns * (size + _GAP), _HEAD + index // columns * tall
        page.image.paste(tile.image, (x + (size - tile.image.width) // 2, y + high - tile.image.height))
        for line, text in enumerate(said):
            page.words(text, x, y + high + 8 + line * _LINE, _WORDS)
    return page.png()


def album(front: Front, *, posture: str = "standing", place: tuple[float, float] | None = None) -> dict[str, bytes]:
    """Return pictures of a front by the names of their files: lights, aside, elevation; and a detail about a place, mm, if any."""
    found = {} if place is None else {"detail.png": detail(front, *place, front.job.picture)}
    return found | {
        "lights.png": lights_sheet(front),
        "aside.png": aside_sheet(front, posture=posture),
        "elevation.pdf": elevation(front),
    }


def _title(front: Front, width: int) -> str:
    title = printable(front.job.title)
    while font(_TITLE).getlength(title) > width / 2 - _MARGIN:
        title = title[:-2] + "…"
    return title


def detail(front: Front, x: float, y: float, picture: Picture) -> bytes:
    """Return a PNG of a part of the front, 120 by 90 mm about a place, that prints at full size by the dots per inch in it.

    `x` and `y` in mm from the lower left corner of the front; raises JobError for a place beyond it.
    """
    layout, ruler = front.layout, front.job.ruler
    if not (0.0 <= x <= layout.width and 0.0 <= y <= layout.height):
        raise mistake(
            "--detail",
            f"`--detail` must be on the front, 0 to {ruler.text(layout.width)} from its left edge and 0 to {ruler.text(layout.height)} "
            f"from its lower one (got {ruler.text(x)} and {ruler.text(y)}): name a place on it",
        )
    pixel = MM_PER_INCH / _DETAIL_DPI
    wide, tall = (round(size / pixel) for size in _DETAIL)
    around = 2 * round(_AROUND / pixel / 2)
    frame = Frame(
        wide + 2 * around,
        tall + 2 * around,
        pixel,
        x - _DETAIL[0] / 2 - around * pixel,
        y + _DETAIL[1] / 2 + around * pixel,
    )
    image = Image.fromarray(painted(front, frame, picture).pixels).crop((around, around, around + wide, around + tall))
    info = PngImagePlugin.PngInfo()
    info.add_text("Software", MAKER)
    file = io.BytesIO()
    image.save(file, "PNG", dpi=(_DETAIL_DPI, _DETAIL_DPI), pnginfo=info)
    return file.getvalue()
