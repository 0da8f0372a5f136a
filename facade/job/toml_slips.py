"""What slipped in a text that is not TOML, said as a maker would say it: the line, and what to write instead."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable

from facade.errors import Mistake, shortened
from facade.job.lines import Place, places_in
from facade.job.places import name_of

_STATEMENT = re.compile(r"""\s*([\w.-]+|"[^"]*"|'[^']*')\s*=\s*(.*)""", re.DOTALL)
_UNITS = r"(?:mm|cm|m|in|inch|inches|ft|\"|″)"
_CURLY = "“”„‟«»‘’‚‹›"
_LONGEST_LINE = 2000  # letters of a line that are looked at


def slip_of(text: str, error: tomllib.TOMLDecodeError) -> Mistake:
    """Return what is wrong with a text that is not TOML, with its line."""
    message = str(error)
    at = re.search(r"\(at line (\d+)", message)
    lines = [line[:_LONGEST_LINE].strip() for line in text.split("\n")]
    number = int(at[1]) if at else len(lines)
    reason = message.split(" (at ")[0]
    twice = _given_twice(text, number, reason)
    if twice is not None:
        return twice
    said = _slip_in(lines[number - 1], reason) if at and not _is_toml(lines[number - 1]) else None
    if said is not None:
        return Mistake(_field(text, number), said, number)
    opened = _left_open(lines[:number], not at)
    if opened is not None:
        return Mistake(_field(text, opened[0]), opened[1], opened[0])
    return Mistake("", f"this is not TOML: {reason[:1].lower()}{reason[1:]}", number)


def _is_toml(line: str) -> bool:
    """Whether a line could stand on its own: then what is wrong began before it."""
    try:
        return bool(tomllib.loads(line))
    except (ValueError, RecursionError):
        return False


def _left_open(lines: list[str], to_the_end: bool) -> tuple[int, str] | None:
    """Return the line before which reading stopped that leaves a text or a list open; the last one, or where all was read the first."""
    stated = [(number, found) for number, line in enumerate(lines, start=1) if (found := _STATEMENT.match(line))]
    for number, found in stated if to_the_end else stated[-2:][::-1]:
        name, value = shortened(found[1]), found[2].strip()
        said = (_open_quote(name, value) or _open_bracket(name, value)) if value else None
        if said is not None:
            return number, said
    return None


def _field(text: str, line: int) -> str:
    """Return the name of the key on a line."""
    places = [place for number, place in places_in(text) if number == line]
    return name_of(places[-1]) if places else ""


def _given_twice(text: str, number: int, reason: str) -> Mistake | None:
    """Return what is said of a key or a table that stands in the text a second time."""
    inline = re.match(r"Duplicate inline table key '(.*)'", reason)
    if inline:
        name = shortened(inline[1])
        return Mistake(name, f"`{name}` is given twice within its braces: leave one of the two out", number)
    if not re.match(r"Cannot (overwrite|declare|mutate|redefine)", reason):
        return None
    first: dict[Place, int] = {}
    twice: list[tuple[Place, int]] = []
    for line, place in places_in(text):
        if line == number and place in first:
            twice.append((place, first[place]))
        if line < number:
            first.setdefault(place, line)
    if not twice:
        return None
    place, before = twice[-1]
    name, stated = shortened(name_of(place)), text.split("\n")[number - 1].strip()
    if not stated.startswith("["):
        return Mistake(
            name, f"`{name}` is given twice, in lines {before} and {number}: leave one of the two out", number
        )
    if stated.startswith("[["):
        return Mistake(
            name,
            f"`{name}` is one table, begun in line {before}: write [{name}] once, in single brackets, and all its keys under it",
            number,
        )
    return Mistake(
        name,
        f"the table [{name}] is begun twice, in lines {before} and {number}: put all its keys under one of the two, "
        f"or write [[{name}]] in double brackets at each where it is a list",
        number,
    )


def _slip_in(line: str, reason: str) -> str | None:
    """Return what slipped in one line, None where nothing is known of it."""
    control = re.match(r"Illegal character '(\\x[0-9a-f]{2}|\\[a-z])'", reason)
    if control and control[1] not in ("\\n", "\\r"):
        return f"there is a letter in it that cannot be seen (`{control[1]}`): delete it, or type the line anew"
    if line.startswith("["):
        return _slip_in_header(line)
    stated = _STATEMENT.match(line)
    if stated:
        name, value = shortened(stated[1]), stated[2].strip()
        return next((said for rule in _VALUES if (said := rule(name, value)) is not None), None)
    return _slip_before_value(line)


def _slip_in_header(line: str) -> str | None:
    found = re.match(r"(\[\[?)\s*([^\[\]#]*?)\s*(\]{0,2})\s*(#.*)?$", line)
    if found is None:
        return None
    name, wanted = found[2], "]" * len(found[1])
    if not name:
        return "there is no name between the brackets: write one, such as [front]"
    spaced = re.sub(r"\s+", "_", name)
    if found[3] != wanted or spaced != name:
        whole = f"{found[1]}{shortened(spaced)}{wanted}"
        return f"`{shortened(line)}` begins no table: write {whole}"
    return None


def _slip_before_value(line: str) -> str | None:
    """Return what slipped in a line without a key and its equals sign."""
    colon = re.match(r"([\w.-]+)\s*(?::=?|=>|->)\s*(\S.*)", line)
    if colon:
        return f"`{shortened(colon[1])}` wants an equals sign: write {_stated(colon[1], colon[2])}"
    bare = re.match(r"([\w.-]+)\s+([^\s=].*)", line)
    if bare and "=" not in line:
        return f"`{shortened(bare[1])}` has no equals sign: write {_stated(bare[1], bare[2])}"
    if re.fullmatch(r"[\w.-]+", line):
        return f"`{shortened(line)}` stands alone: write a value after it, such as {shortened(line)} = 8"
    spaced = re.match(r"([A-Za-z][\w-]*(?:\s+[\w-]+)+)\s*=", line)
    if spaced:
        return f"`{shortened(spaced[1])}` is no name: names have no spaces, such as {shortened('_'.join(spaced[1].split()))}"
    return None


def _stated(name: str, value: str) -> str:
    """Return a statement as it should be, the value in quotes where it is a text."""
    value = value.split("#")[0].strip()
    plain = re.fullmatch(r"-?\d+(\.\d+)?|true|false|\".*\"|'.*'|[\[{].*", value)
    return f"{shortened(name)} = {shortened(value)}" if plain else f"{shortened(name)} = {_quoted(value)}"


def _quoted(value: str) -> str:
    return f'"{shortened(value.strip().strip(_CURLY).replace(chr(34), ""))}"'


def _no_value(name: str, value: str) -> str | None:
    if value and not value.startswith("#"):
        return None
    return f"`{name}` has no value: write one after the equals sign, or delete the line"


def _comma(name: str, value: str) -> str | None:
    found = re.match(r"([-+]?\d+),(\d+)\s*(#.*|\Z)", value)
    if found is None:
        return None
    got = f"(got {found[1]},{found[2]})"
    if len(found[2]) == 3:
        whole = f"{found[1]}{found[2]}"
        return f"`{name}` has a comma in its number {got}: write {whole}, or {found[1]}.{found[2]} where the comma is a decimal point"
    return f"`{name}` has a comma in its number {got}: write {found[1]}.{found[2]}, a decimal point, no comma"


def _thousands(name: str, value: str) -> str | None:
    found = re.match(r"([-+]?\d{1,3}(?:[.,' ]\d{3})+)(?:[.,](\d+))?\s*(#.*|\Z)", value)
    if found is None or not re.search(r"[,' ]|\..*[.,]", found[0]):
        return None
    number = re.sub(r"\D", "", found[1]) + (f".{found[2]}" if found[2] else "")
    return f"`{name}` has marks between its thousands (got {shortened(found[0].split('#')[0])}): write {number}"


def _with_unit(name: str, value: str) -> str | None:
    found = re.match(rf"([-+]?[\d./ ]*\d)\s*({_UNITS})\s*(#.*|\Z)", value)
    if found is None:
        return None
    unit = "in" if found[2] in ('"', "″") else found[2]
    return f'`{name}` is a length with its unit, which stands in quotes: write {name} = "{shortened(found[1].strip())} {unit}"'


def _fraction(name: str, value: str) -> str | None:
    found = re.match(r"((?:\d+[\s-]+)?\d+\s*/\s*\d+)\s*(#.*|\Z)", value)
    if found is None:
        return None
    return f'`{name}` is a fraction, which stands in quotes with its unit: write {name} = "{shortened(found[1])} in"'


def _digits(name: str, value: str) -> str | None:
    found = re.match(r"([-+]?)(0*)(\d*)(\.?)(\d*)\s*(#.*|\Z)", value)
    if found is None or not (found[3] or found[5] or found[2]):
        return None
    sign, _, whole, point, part = (found[index] for index in range(1, 6))
    written = f"{sign}{whole or '0'}{point and '.'}{part or ('0' if point else '')}"
    if value.split("#")[0].strip() == written:
        return None
    return f"`{name}` must have digits on both sides of its point and no zero in front: write {name} = {shortened(written)}"


def _yes_or_no(name: str, value: str) -> str | None:
    word = value.split("#")[0].strip().lower()
    answers = {"true": "true", "yes": "true", "on": "true", "false": "false", "no": "false", "off": "false"}
    if word not in answers:
        return None
    return f"`{name}` is written in small letters without quotes, true or false: write {name} = {answers[word]}"


def _curly_quotes(name: str, value: str) -> str | None:
    if not value or value[0] not in _CURLY:
        return None
    return f"`{name}` has curly quotes, which only look like quotes: write {name} = {_quoted(value.split('#')[0])}"


def _open_quote(name: str, value: str) -> str | None:
    quote = value[0]
    if quote not in "\"'" or value.startswith(quote * 3):
        return None
    if re.match(r'"(?:\\.|[^"\\])*"' if quote == '"' else r"'[^']*'", value):
        return None
    return f"`{name}` has no closing quote: write {name} = {_quoted(value[1:])}"


def _bare_text(name: str, value: str) -> str | None:
    if not re.match(r"[A-Za-z]", value) or value.split("#")[0].strip() in ("true", "false", "inf", "nan"):
        return None
    return f"`{name}` is a text, which stands in quotes: write {name} = {_quoted(value.split('#')[0])}"


def _open_bracket(name: str, value: str) -> str | None:
    bare = re.sub(r'"(?:\\.|[^"\\])*"|\'[^\']*\'|#.*', "", value)
    for opening, closing, thing in (("[", "]", "list"), ("{", "}", "table")):
        if bare.startswith(opening) and bare.count(opening) > bare.count(closing):
            same = "" if opening == "[" else ", on the same line"
            return f"`{name}` is a {thing} with no closing {closing}: write it at its end{same}"
    return None


def _something_after(name: str, value: str) -> str | None:
    found = re.match(r'([-+]?\d+(?:\.\d+)?(?![\d.])|"(?:\\.|[^"\\])*"|\'[^\']*\'|true|false)\s*([^\s#].*)', value)
    if found is None:
        return None
    rest = found[2].split("#")[0].strip()
    return f"`{name}` has something after its value (got {shortened(rest)}): write {name} = {shortened(found[1])} alone on its line"


_VALUES: tuple[Callable[[str, str], str | None], ...] = (
    _no_value,
    _comma,
    _thousands,
    _with_unit,
    _fraction,
    _digits,
    _yes_or_no,
    _curly_quotes,
    _open_quote,
    _bare_text,
    _open_bracket,
    _something_after,
)
