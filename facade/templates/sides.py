"""The side sheet: both sides of one strip at full size, to be traced on the wood.

Each side is drawn as it is seen when looking at it, its back along the bottom: so TOP is at the left end of a LEFT side and
at the right end of a RIGHT side. The two also differ in their hatch, slanting lines against crosses, which survives grey print.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from facade.arrays import Array
from facade.drawing import Anchor, Drawing, Pen, fitted, printable, text_width
from facade.front import Front
from facade.lengths import MM_PER_INCH, Ruler, Unit
from facade.slicer import Strip, edge_heights, stations
from facade.thinning import thin

# All mm. Words are at least 2.6 high, which reads at arm's length; what must be seen first is larger.
MARGIN = 10.0
GUTTER_LEFT = 25.0
GUTTER_RIGHT = 26.0
LEAST_BODY = 224.0
WARNING = 13.0
HEADER = 35.0
KEY_ROW = 5.5
PANEL_HEAD = 14.0
PANEL_FOOT = 15.0
FOOT = 21.0
TOP_BLOCK = 34.0
SMALL = 2.6
PLAIN = 3.2
# Straight runs of a drawn line stay this close to the surface.
LINE_TOLERANCE = 0.01

NOT_CLEARED = "NOT CLEARED"
CAUTION = (
    "Saw and disc: strip screwed or held in a carrier, guards on, eyes, ears and lungs protected. "
    "Local rules, the maker's manuals and trained practice come first."
)


@dataclass(frozen=True)
class Side:
    """One side of a strip as it is seen: distances along it from its left end on the sheet, heights above the back."""

    name: str
    sheet_x: Array
    finished: Array
    saw: Array
    station_x: Array
    station_height: Array
    from_top: Array
    top_at_left: bool
    faces: str


def side_sheet(front: Front, strip: Strip, *, cleared: bool = True) -> Drawing:
    """Return the full-size sheet of one strip; one of a front that is not `cleared` by the checks says so."""
    job, ruler = front.job, front.job.ruler
    key = _key_rows(strip, ruler)
    body = max(strip.length, LEAST_BODY)
    panel = PANEL_HEAD + strip.blank + PANEL_FOOT
    rows = _rows(key, GUTTER_LEFT + body + GUTTER_RIGHT)
    rule = 100.0 if ruler.unit is Unit.MM else 4 * MM_PER_INCH
    warning = 0.0 if cleared else WARNING
    height = 2 * MARGIN + warning + HEADER + KEY_ROW * len(rows) + max(2 * panel + FOOT, rule + 14)
    sheet = Drawing(
        2 * MARGIN + GUTTER_LEFT + body + GUTTER_RIGHT, height, f"{printable(job.title)}: strip {strip.number}"
    )
    top = sheet.height - MARGIN
    if not cleared:
        _not_cleared(sheet, top)
    top -= warning
    _header(sheet, front, strip, top)
    top -= HEADER
    _key(sheet, rows, top)
    top -= KEY_ROW * len(rows)
    left, right = _sides(front, strip)
    for side in (left, right):
        _panel(sheet, front, strip, side, MARGIN + GUTTER_LEFT, top - PANEL_HEAD - strip.blank, cleared=cleared)
        top -= panel
    _rules(sheet, ruler, rule)
    return sheet


def _sides(front: Front, strip: Strip) -> tuple[Side, Side]:
    """Return the left and the right side, each with its own direction."""
    marks = stations(strip.length, front.job.station)
    left_heights, right_heights = edge_heights(front.surface, strip.place, marks)
    from_top, length = strip.from_top[::-1], strip.length
    left_line, right_line, saw = strip.left_edge[::-1], strip.right_edge[::-1], strip.saw_line[::-1]
    left = Side(
        "LEFT", from_top, left_line, saw, marks, left_heights, marks, True, _faces(strip.place.left_neighbour, "left")
    )
    right = Side(
        "RIGHT",
        length - from_top,
        right_line,
        saw,
        length - marks,
        right_heights,
        marks,
        False,
        _faces(strip.place.right_neighbour, "right"),
    )
    return left, right


def _faces(neighbour: int | None, end: str) -> str:
    return f"faces strip {neighbour}" if neighbour else f"{end} end of the front"


def _header(sheet: Drawing, front: Front, strip: Strip, top: float) -> None:
    job, ruler, place = front.job, front.job.ruler, strip.place
    x = MARGIN
    sheet.label(str(strip.number), x, top - 21, 28, bold=True)
    x += max(text_width(str(strip.number), 28, bold=True), text_width("00", 28, bold=True)) + 5
    end = sheet.width - MARGIN
    room = end - x - 66
    doors = len(front.layout.doors)
    door = f", door {place.door} of {doors}" if doors > 1 else ""
    sheet.label(f"Strip {strip.number} of {front.count}{door}", x, top - 6, 5, bold=True)
    sheet.label(fitted(job.title, 4.2, room), x, top - 12.5, 4.2)
    size = f"{ruler.text(strip.length)} long, {ruler.text(strip.width)} wide, {ruler.text(strip.blank)} thick"
    wood = f"Blank {size}. {job.wood.species.capitalize()}."
    type_size = PLAIN if text_width(wood, PLAIN) <= room else SMALL
    sheet.label(fitted(wood, type_size, room), x, top - 18.5, type_size)
    _neighbours(sheet, strip, x, top - 27)
    sheet.label("PRINT AT 100 %", end, top - 5.5, 5, Anchor.END, bold=True)
    sheet.label("then check both rules", end, top - 10.5, PLAIN, Anchor.END)
    sheet.label(f"Mark {front.mark}", end, top - 17, 4.2, Anchor.END, bold=True)
    words = "All lengths in mm" if ruler.unit is Unit.MM else f"All lengths in inches, to 1/{ruler.fraction}"
    sheet.label(words, end, top - 22, PLAIN, Anchor.END)
    sheet.label(f"Sheet {strip.number} of {front.count}", end, top - 27, PLAIN, Anchor.END)
    sheet.line([[MARGIN, top - HEADER + 4], [end, top - HEADER + 4]], Pen.RULE)


def _not_cleared(sheet: Drawing, top: float) -> None:
    """Say in a black frame across the sheet that the checks stop this job."""
    left, right, base = MARGIN, sheet.width - MARGIN, top - WARNING + 3
    sheet.shape([[left, base], [right, base], [right, top], [left, top]], Pen.BACK, "not-cleared")
    words = sheet.label(NOT_CLEARED, left + 3, base + 2.6, 5.6, bold=True)
    sheet.label(
        "The checks stop this job: see check.png. Cut nothing from this sheet.", left + words + 8, base + 2.8, 4.2
    )


def _neighbours(sheet: Drawing, strip: Strip, x: float, y: float) -> None:
    """Draw the strip between its neighbours, as they hang, seen from the front."""
    words = sheet.label("Hangs between", x, y, PLAIN)
    x += words + 2
    for number, own in (
        (strip.place.left_neighbour, False),
        (strip.number, True),
        (strip.place.right_neighbour, False),
    ):
        text = str(number) if number else "end"
        wide = max(12.0, text_width(text, 3.6, bold=own) + 3)
        box = [[x, y - 1.8], [x + wide, y - 1.8], [x + wide, y + 4], [x, y + 4]]
        sheet.shape(box, Pen.CARVE if own else Pen.TICK)
        sheet.label(text, x + wide / 2, y - 0.2, 3.6, Anchor.MIDDLE, bold=own)
        x += wide + 1.5
    sheet.label("seen from the front", x + 0.5, y, PLAIN)


def _key_rows(strip: Strip, ruler: Ruler) -> list[tuple[Pen | str, str]]:
    """Return the key: what each line means, in words."""
    sanding, sawing = ruler.text(strip.sanding), ruler.text(strip.sawing)
    return [
        (Pen.CARVE, f"carve to here, then sand {sanding} off"),
        (Pen.FINISHED, "finished line; the heights are to it"),
        (Pen.SAW, f"saw here: {sawing} above the higher finished line of both sides"),
        (Pen.FLOOR, "floor: nothing below"),
        (Pen.BACK, "back"),
        ("LEFT", "waste, LEFT side"),
        ("RIGHT", "waste, RIGHT side"),
    ]


_SAMPLE = 11.0


def _rows(key: list[tuple[Pen | str, str]], room: float) -> list[list[tuple[Pen | str, str]]]:
    """Return the key in as many rows as its width needs."""
    rows: list[list[tuple[Pen | str, str]]] = [[]]
    used = 0.0
    for entry in key:
        wide = _SAMPLE + 2 + text_width(entry[1], PLAIN) + 5
        if used + wide > room and rows[-1]:
            rows.append([])
            used = 0.0
        rows[-1].append(entry)
        used += wide
    return rows


def _key(sheet: Drawing, rows: list[list[tuple[Pen | str, str]]], top: float) -> None:
    for row in rows:
        x, y = MARGIN, top - 3
        for pen, words in row:
            if isinstance(pen, Pen):
                sheet.line([[x, y + 1.1], [x + _SAMPLE, y + 1.1]], pen)
            else:
                box = np.array([0.0, _SAMPLE])
                sheet.lines(_hatch(pen == "LEFT", x + box, np.full(2, y - 0.6), y + 2.9), Pen.HATCH)
                sheet.shape([[x, y - 0.6], [x + _SAMPLE, y - 0.6], [x + _SAMPLE, y + 2.9], [x, y + 2.9]], Pen.FINE)
            x += _SAMPLE + 2
            x += sheet.label(words, x, y, PLAIN) + 5
        top -= KEY_ROW


def _panel(sheet: Drawing, front: Front, strip: Strip, side: Side, x: float, base: float, *, cleared: bool) -> None:
    """Draw one side; (x, base) is the left end of its back."""
    length, raw, name = strip.length, base + strip.blank, side.name.lower()
    keep = thin(np.column_stack([side.finished, side.saw]), LINE_TOLERANCE)
    along = x + side.sheet_x[keep]
    finished, saw = base + side.finished[keep], base + side.saw[keep]
    _panel_head(sheet, side, strip.number, x, x + length, raw + 4.5)
    sheet.lines(_hatch(side.top_at_left, along, saw + 0.5, raw - 0.3), Pen.HATCH, f"{name}-waste")
    _stations(sheet, side, front.job.ruler, x, base, strip.blank, front.surface.floor)
    sheet.line([[x, base + front.surface.floor], [x + length, base + front.surface.floor]], Pen.FLOOR, f"{name}-floor")
    sheet.shape([[x, base], [x + length, base], [x + length, raw], [x, raw]], Pen.OUTLINE, f"{name}-blank")
    sheet.line(np.column_stack([along, finished]), Pen.FINISHED, f"{name}-finished")
    sheet.line(np.column_stack([along, strip.carve_line(finished)]), Pen.CARVE, f"{name}-carve")
    sheet.line(np.column_stack([along, saw]), Pen.SAW, f"{name}-saw")
    sheet.line([[x, base], [x + length, base]], Pen.BACK, f"{name}-back")
    _words_in_wood(sheet, front, strip, side, x, base, cleared=cleared)


def _panel_head(sheet: Drawing, side: Side, number: int, left: float, right: float, y: float) -> None:
    """Write which side it is, and draw the arrow to the TOP end."""
    way = -1.0 if side.top_at_left else 1.0
    tip, middle = (left if side.top_at_left else right), y + 1.9
    sheet.shape([[tip, middle], [tip - way * 7, middle + 3.2], [tip - way * 7, middle - 3.2]], Pen.SOLID)
    sheet.line([[tip - way * 6, middle], [tip - way * 13, middle]], Pen.BACK)
    sheet.label("TOP", tip - way * 14.5, y, 5, Anchor.START if side.top_at_left else Anchor.END, bold=True)
    name, words = f"{number} {side.name}", f"as seen when you look at it; {side.faces}"
    wide = text_width(name, 5.6, bold=True) + 3 + text_width(words, PLAIN)
    x = left + TOP_BLOCK if side.top_at_left else left
    if not side.top_at_left and left + wide > right - TOP_BLOCK:
        # A short strip has no room between its end and the arrow: the words go beyond the arrow.
        x = right + 4
    x += sheet.label(name, x, y, 5.6, bold=True) + 3
    sheet.label(words, x, y, PLAIN)


def _words_in_wood(
    sheet: Drawing, front: Front, strip: Strip, side: Side, x: float, base: float, *, cleared: bool
) -> None:
    """Name the side again below the floor line, where it stays when the paper is cut out."""
    number = f"{strip.number} {side.name}"
    ways = (f"TOP · {number} · {front.mark}", f"TOP · {number}", number)
    if not cleared:
        ways = (f"TOP · {number} · {front.mark} · {NOT_CLEARED}", f"TOP · {number} · {NOT_CLEARED}", NOT_CLEARED)
    largest = min(4.6, front.surface.floor - 2.2)
    for words in ways:
        text = f"← {words}" if side.top_at_left else f"{' · '.join(reversed(words.split(' · ')))} →"
        size = min(largest, (strip.length - 8) / text_width(text, 1.0, bold=True))
        if size >= SMALL:
            at, anchor = (x + 4, Anchor.START) if side.top_at_left else (x + strip.length - 4, Anchor.END)
            sheet.label(text, at, base + 1.3, size, anchor, bold=True)
            return


def _stations(sheet: Drawing, side: Side, ruler: Ruler, x: float, base: float, blank: float, floor: float) -> None:
    """Draw a tick at each station, above and below the wood, and write its distance from the top and its height."""
    at = x + side.station_x
    raw = base + blank
    # Every fourth is longer: 100 mm, or 4 in, in the usual steps.
    reach = np.where(np.arange(len(at)) % 4 == 0, 3.0, 1.6)
    ticks = np.concatenate([_upright(at, base, base - reach), _upright(at, raw, raw + reach)])
    sheet.lines(ticks, Pen.TICK, f"{side.name.lower()}-stations")
    sheet.lines(_upright(at, base + floor, base + side.station_height), Pen.FINE)
    places = [_bare(ruler, place) for place in side.from_top]
    heights = [ruler.number(height) for height in side.station_height]
    sheet.label("from TOP", x - 9, base - 6.2, SMALL, Anchor.END)
    sheet.label("height", x - 9, base - 10.8, PLAIN, Anchor.END, bold=True)
    for index in _roomy(side.station_x, places, heights):
        sheet.label(places[index], at[index], base - 6.2, SMALL, Anchor.MIDDLE)
    for index in _roomy(side.station_x, places, heights):
        sheet.label(heights[index], at[index], base - 10.8, PLAIN, Anchor.MIDDLE, bold=True)


def _upright(x: Array, low: Array | float, high: Array | float) -> Array:
    """Return upright runs (n, 2, 2) at each x."""
    return np.stack([_places(x, low), _places(x, high)], axis=1)


def _level(left: Array, right: Array, y: Array | float) -> Array:
    """Return level runs (n, 2, 2) from left to right."""
    return np.stack([_places(left, y), _places(right, y)], axis=1)


def _places(x: Array, y: Array | float) -> Array:
    return np.stack(np.broadcast_arrays(x, y), axis=-1)


def _bare(ruler: Ruler, length: float) -> str:
    """Return a place along a strip without unit and without needless zeros."""
    return ruler.text(length).removesuffix(f" {ruler.unit.value}")


def _roomy(at: Array, places: list[str], heights: list[str]) -> list[int]:
    """Return the stations whose labels fit beside each other; the bottom end always keeps its own."""
    wide = [
        max(text_width(place, SMALL), text_width(height, PLAIN, bold=True)) + 1.2
        for place, height in zip(places, heights, strict=True)
    ]
    last = len(at) - 1
    chosen: list[int] = []
    for index in range(last):
        far = not chosen or abs(at[index] - at[chosen[-1]]) >= (wide[index] + wide[chosen[-1]]) / 2
        if far and abs(at[last] - at[index]) >= (wide[index] + wide[last]) / 2:
            chosen.append(index)
    return [*chosen, last]


def _hatch(slanting: bool, along: Array, low: Array, high: float) -> Array:
    """Return hatch between a line and a level above it, runs (n, 2, 2): slanting lines, or crosses."""
    if along[0] > along[-1]:
        along, low = along[::-1], low[::-1]
    if high - float(low.min()) < 0.6:
        return np.empty((0, 2, 2))
    return _slants(along, low, high) if slanting else _crosses(along, low, high)


def _slants(along: Array, low: Array, high: float, pitch: float = 3.0, grain: float = 0.25) -> Array:
    bottom = float(low.min())
    rise = np.arange(0.0, high - bottom + grain, grain)
    rise = rise[bottom + rise <= high]
    starts = np.arange(along[0] - rise[-1], along[-1], pitch)
    x, y = starts[:, None] + rise, bottom + rise
    inside = (x >= along[0]) & (x <= along[-1]) & (y >= np.interp(x, along, low))
    edges = np.diff(np.pad(inside.astype(np.int8), ((0, 0), (1, 1))), axis=1)
    (line, first), (_, after) = np.nonzero(edges == 1), np.nonzero(edges == -1)
    last = after - 1
    long = last > first
    line, first, last = line[long], first[long], last[long]
    return np.stack([_places(x[line, first], y[first]), _places(x[line, last], y[last])], axis=1)


def _crosses(along: Array, low: Array, high: float, pitch: float = 4.0, arm: float = 0.75) -> Array:
    levels = np.arange(high - 1.1, float(low.min()), -2.6)
    runs = [np.empty((0, 2, 2))]
    for row, level in enumerate(levels):
        x = np.arange(along[0] + 1.2 + (pitch / 2) * (row % 2), along[-1] - 1.0, pitch)
        clear = np.maximum(np.interp(x - arm, along, low), np.interp(x + arm, along, low)) <= level - arm - 0.1
        x = x[clear]
        runs += [_level(x - arm, x + arm, level), _upright(x, level - arm, level + arm)]
    return np.concatenate(runs)


def _rules(sheet: Drawing, ruler: Ruler, rule: float) -> None:
    """Draw the rule along the foot and the one up the right side, and the words that go with them."""
    parts = 10 if ruler.unit is Unit.MM else 16
    words = "100 mm" if ruler.unit is Unit.MM else "4 in"
    x, y = MARGIN + GUTTER_LEFT, MARGIN + 8.0
    _rule(sheet, np.array([x, y]), np.array([1.0, 0.0]), rule, parts, "rule-along")
    sheet.label(words, x + rule + 2.5, y, PLAIN, bold=True)
    wide = text_width(words, PLAIN, bold=True) + 5
    sheet.label("Both rules must read true by a steel rule: if not, print at 100 % again.", x + rule + wide, y, SMALL)
    sheet.label(CAUTION, MARGIN, MARGIN, SMALL)
    up = sheet.width - MARGIN - 3.0
    _rule(sheet, np.array([up, y]), np.array([0.0, 1.0]), rule, parts, "rule-up")
    sheet.label(words, up - 5.5, y + rule / 2, PLAIN, Anchor.MIDDLE, bold=True, turn=90)


def _rule(sheet: Drawing, start: Array, way: Array, length: float, parts: int, name: str) -> None:
    aside = np.array([-way[1], way[0]])
    sheet.line([start, start + way * length], Pen.RULE, name)
    ticks = []
    for k in range(parts + 1):
        at = start + way * (length * k / parts)
        long = 3.5 if k in (0, parts) else 2.6 if k % (parts // 2 if parts == 10 else 4) == 0 else 1.6
        ticks.append([at, at + aside * long])
    sheet.lines(ticks, Pen.TICK)
