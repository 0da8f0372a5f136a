"""The command line: parse, call, print. Nothing is computed here.

Heavy rooms are imported inside the commands that need them, so that `facade --help` answers at once.
"""

from __future__ import annotations

import argparse
import io
import json
import os
import re
import shlex
import signal
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, cast

from facade.errors import FacadeError, FileError, JobError, visible
from facade.version import __version__

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from facade.build import Build, Progress
    from facade.checks import Finding
    from facade.front import Front
    from facade.lengths import Unit
    from facade.paper import Order
    from facade.printing.papers import Margins
    from facade.relaxing import Relaxed
    from facade.reliefs.catalogue import Parameter
    from facade.templates.pack import Pack

DONE, STOPPED = 0, 1
OUTPUTS = ("sides", "strips", "offsets", "parts", "solid", "view", "picture", "report", "check", "paper")
SHEETS = (
    "first",
    "calibration",
    "sticks",
    "sides",
    "wraps",
    "faces",
    "holes",
    "gauges",
    "boards",
    "lists",
    "wrong",
    "offsets",
)


_WHOLE = "every folder is whole, as it was before or as it was to be"
# What may come out at the bench otherwise than designed, as `[as_built]` of the job file has it.
_AS_BUILT = ("missing", "stack", "spacers", "blank")
_KEEP = "write what came out otherwise into the job file, under [as_built]; without it, it holds for this once"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code: 0 done, 1 findings stop the job, 2 bad input."""
    options = _parser().parse_args(arguments)
    # Matrices here are small: more threads for each would wait on each other. Must be said before numpy is imported.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # What else is installed here does not change how a job is read, and need not be looked through.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    for stream in (sys.stdout, sys.stderr):
        # A console that cannot show a letter shows a question mark instead.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    from facade.processes import Ended, ending_in_order

    try:
        with ending_in_order():
            return int(options.run(options))
    except FacadeError as error:
        for line in str(error).splitlines():
            print(f"facade: {line}", file=sys.stderr)
        return error.exit_code
    except BrokenPipeError:
        sys.stderr.close()
        return DONE
    except OSError as error:
        print(f"facade: cannot write what it has to say: {error.strerror or error}", file=sys.stderr)
        return FacadeError.exit_code
    except KeyboardInterrupt:
        print(f"facade: interrupted; {_WHOLE}", file=sys.stderr)
        return 128 + signal.SIGINT
    except Ended as error:
        print(f"facade: ended by {signal.Signals(error.number).name}; {_WHOLE}", file=sys.stderr)
        return 128 + error.number


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        super().error(visible(message))


def _parser() -> argparse.ArgumentParser:
    parser: argparse.ArgumentParser = _Parser(
        prog="facade", description="Carved cabinet fronts made of many narrow vertical strips."
    )
    parser.add_argument("--version", action="version", version=f"facade {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    start = _command(commands, "start", _start, "write a job file from a preset; without one, list the presets")
    start.add_argument("preset", nargs="?", help="name of a preset")
    start.add_argument("file", nargs="?", type=Path, help="job file to write (default: the preset's name, here)")
    build = _command(commands, "build", _build, "make everything from a job file: picture, templates, tables, solids")
    build.add_argument("job", type=Path, help="job file")
    build.add_argument(
        "--out",
        type=Path,
        default=Path("out"),
        metavar="FOLDER",
        help="folder that gets a folder named after the job (default: out)",
    )
    build.add_argument(
        "--only",
        type=_outputs,
        default=OUTPUTS,
        metavar="WHAT",
        help=f"some of {','.join(OUTPUTS)}; what was made before stays",
    )
    build.add_argument(
        "--workers", type=int, metavar="N", help="processes that share the strips (default: as many as pay)"
    )
    build.add_argument("--strict", action="store_true", help="write nothing when a finding stops the job")
    build.add_argument("--proof", action="store_true", help="read every file back and compare it with the front")
    build.add_argument("--json", action="store_true", help="print what was made for a program to read")
    _paper_command(commands)
    _printer_command(commands)
    _cnc_command(commands)
    proof = _command(
        commands, "proof", _proof, "read every file of a build back with other readers, and compare it with the front"
    )
    proof.add_argument("folder", type=Path, help="folder that a build has written")
    proof.add_argument("--json", action="store_true", help="print what was compared for a program to read")
    proof.add_argument(
        "--anew",
        action="store_true",
        help="make every file once more besides, and compare byte by byte: as long as a build",
    )
    check = _command(
        commands, "check", _check, "say whether it can be made, and where not: by strip and distance from the top"
    )
    check.add_argument("job", type=Path, help="job file")
    check.add_argument(
        "--strip", type=int, metavar="N", help="only strip N, with its heights, carving strokes and screws"
    )
    check.add_argument(
        "--pictures",
        type=Path,
        metavar="FOLDER",
        help="write check.png into this folder: the front with the places marked",
    )
    check.add_argument("--json", action="store_true", help="print the findings for a program to read")
    _pictures_command(commands)
    _options_command(commands)
    opened = _command(
        commands, "open", _open, "design in the browser: the front in 3-D, its controls and findings, live"
    )
    opened.add_argument("job", nargs="?", type=Path, help="job file (default: a preset; files are kept in this folder)")
    opened.add_argument(
        "--port", type=_between(0, 65535), default=0, metavar="N", help="port (default: any that is free)"
    )
    opened.add_argument("--no-browser", action="store_true", help="start no browser")
    relax = _command(
        commands, "relax", _relax, "write a new job file with the smallest change that clears what stops the job"
    )
    relax.add_argument("job", type=Path, help="job file")
    relax.add_argument("file", nargs="?", type=Path, help="job file to write (default: JOB-relaxed.toml, beside it)")
    relax.add_argument("--looks", action="store_true", help="clear what is to be looked at too, where the relief can")
    relax.add_argument("--json", action="store_true", help="print what was changed for a program to read")
    reliefs = _command(commands, "reliefs", _reliefs, "the catalogue of reliefs; with a kind, its parameters")
    reliefs.add_argument("kind", nargs="?", help="kind of relief")
    reliefs.add_argument(
        "--pictures", type=Path, metavar="FOLDER", help="write a picture of every kind into this folder"
    )
    reliefs.add_argument("--json", action="store_true", help="print the catalogue for a program to read")
    schema = _command(commands, "schema", _schema, "the JSON Schema of a job file, for editors")
    schema.add_argument("--out", type=Path, metavar="FILE", help="file to write it to (default: print it)")
    return parser


def _pictures_command(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    pictures = _command(
        commands, "pictures", _pictures, "show the front under six lights, from aside, and as an elevation to sign"
    )
    pictures.add_argument("job", type=Path, help="job file")
    pictures.add_argument("--out", type=Path, metavar="FOLDER", help="folder for them (default: JOB-pictures, here)")
    pictures.add_argument(
        "--eye", choices=("standing", "seated"), default="standing", help="whose eyes look from aside"
    )
    pictures.add_argument(
        "--finish", choices=("raw", "oil", "dark"), help="what is on the wood, where it is not as the job says"
    )
    pictures.add_argument(
        "--detail", metavar="X,Y", help="besides, what lies about this place at full size; from the lower left corner"
    )


def _options_command(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    options = _command(
        commands, "options", _options, "show variants of a job that can be made, side by side; take one as a job file"
    )
    options.add_argument("job", type=Path, help="job file")
    options.add_argument(
        "--vary",
        action="append",
        default=[],
        metavar="FIELD=VALUES",
        help="what may differ: layers[1].size=120..300, strips.count=36,40,44; again for more (default: the relief's "
        "lengths, directions and chance)",
    )
    options.add_argument(
        "--count", type=_between(2, 1000), default=24, metavar="N", help="variants to try (default: 24)"
    )
    options.add_argument("--show", type=_between(2, 12), default=6, metavar="N", help="options to show (default: 6)")
    options.add_argument(
        "--seed", type=_between(0, 10**6), default=1, metavar="N", help="another number, other variants"
    )
    options.add_argument("--all", action="store_true", help="show what cannot be made too, marked")
    options.add_argument("--take", metavar="LETTER", help="write the option of this letter as a job file")
    options.add_argument("--out", type=Path, metavar="PLACE", help="folder of the sheet, or job file of the one taken")
    options.add_argument(
        "--cluster", metavar="ADDRESS", help="share the work with a Dask cluster: needs facade[cluster]"
    )


def _between(least: int, most: int) -> Callable[[str], int]:
    def number(text: str) -> int:
        if not text.isdigit() or not least <= int(text) <= most:
            raise argparse.ArgumentTypeError(f"must be a whole number from {least} to {most} (got {text!r})")
        return int(text)

    return number


def _paper_command(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    paper = _command(commands, "paper", _paper, "print the paper pack: every sheet that the maker needs, true to size")
    paper.add_argument("job", type=Path, help="job file")
    paper.add_argument(
        "--out",
        type=Path,
        default=Path("out"),
        metavar="FOLDER",
        help="folder that gets a folder named after the job (default: out)",
    )
    paper.add_argument("--paper", metavar="SIZE", help="A4, A3, A2, A1, A0, Letter, Legal or Tabloid")
    paper.add_argument("--roll", metavar="WIDTH", help="width of the roll to print on, instead of cut paper")
    paper.add_argument("--margins", metavar="SIDES[,ENDS]", help="what the printer leaves unprinted (default: 8 mm)")
    paper.add_argument(
        "--printer", metavar="NAME", help="a printer that was measured: its paper, margins and correction"
    )
    paper.add_argument(
        "--door", type=_doors, metavar="N", help="the sheets of these doors alone: 2, or 1,3-4; of a wall all with all"
    )
    paper.add_argument("--strip", type=_numbers, metavar="N", help="the sheets of these strips alone: 17, or 3,8-10")
    paper.add_argument("--only", type=_sheets, metavar="KINDS", help=f"some of {','.join(SHEETS)}")
    paper.add_argument("--sheet", type=_numbers, metavar="N", help="these sheets of the pack alone, by their numbers")
    paper.add_argument(
        "--line",
        choices=("both", "carve", "finished"),
        default="both",
        help="which line templates show (default: both)",
    )
    paper.add_argument(
        "--by",
        choices=("kind", "strip"),
        default="kind",
        help="what follows each other: sheets of a kind, or all that one strip needs (default: kind)",
    )
    paper.add_argument("--stack", metavar="LENGTH", help="ten strips pushed together measure this")
    paper.add_argument("--spacers", metavar="LENGTH", help="ten spacers pushed together measure this")
    paper.add_argument("--missing", type=_numbers, metavar="N", help="strips left out: their gaps are spread")
    paper.add_argument("--blank", metavar="LENGTH", help="thickness of the blanks as measured")
    paper.add_argument("--keep", action="store_true", help=_KEEP)
    paper.add_argument("--all", action="store_true", help="print again what was printed and did not change")
    paper.add_argument("--json", action="store_true", help="print what was made for a program to read")


def _cnc_command(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    cnc = _command(
        commands, "cnc", _cnc, "write files for a machine: profiles of strips on their side, or carved faces"
    )
    cnc.add_argument("job", type=Path, help="job file")
    cnc.add_argument(
        "--route",
        choices=("side", "face"),
        required=True,
        help="side: profiles for a straight cutter, strips on their side; face: surfaces and code, strips side by side",
    )
    cnc.add_argument(
        "--out",
        type=Path,
        default=Path("out"),
        metavar="FOLDER",
        help="folder that gets a folder named after the job (default: out)",
    )
    cnc.add_argument("--strip", type=_numbers, metavar="N", help="only these strips: 17, or 3,8-10")
    cnc.add_argument("--blank", metavar="LENGTH", help="thickness of the blanks as measured, where it is not the job's")
    cnc.add_argument("--keep", action="store_true", help=_KEEP)
    cnc.add_argument("--strict", action="store_true", help="write nothing when a finding stops the job")
    cnc.add_argument("--proof", action="store_true", help="read every file back, run the code, compare with the front")
    cnc.add_argument("--json", action="store_true", help="print what was made for a program to read")


def _printer_command(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    printer = _command(
        commands, "printer", _printer, "keep what a printer gets wrong; without a name, list the printers"
    )
    printer.add_argument("name", nargs="?", help='your own name for it, such as "hall printer"')
    printer.add_argument(
        "--short", metavar="LENGTH", help="what the short side's line on the calibration sheet measures"
    )
    printer.add_argument("--long", metavar="LENGTH", help="what the long side's line measures")
    printer.add_argument("--paper", default="A4", metavar="SIZE", help="the paper it holds (default: A4)")
    printer.add_argument("--margins", metavar="SIDES[,ENDS]", help="what it leaves unprinted (default: 8 mm)")
    printer.add_argument(
        "--unit", choices=("mm", "in"), default="mm", help="unit of the sheet and of bare numbers here"
    )
    printer.add_argument("--forget", action="store_true", help="forget this printer")


def _command(
    commands: argparse._SubParsersAction[argparse.ArgumentParser],
    name: str,
    run: Callable[[argparse.Namespace], int],
    about: str,
) -> argparse.ArgumentParser:
    command = commands.add_parser(name, help=about, description=f"{about[:1].upper()}{about[1:]}.")
    command.set_defaults(run=run)
    return command


def _outputs(text: str) -> tuple[str, ...]:
    names = tuple(name.strip() for name in text.split(","))
    for name in names:
        if name not in OUTPUTS:
            raise argparse.ArgumentTypeError(f"{name!r} is not known: choose from {', '.join(OUTPUTS)}")
    return names


def _sheets(text: str) -> tuple[str, ...]:
    names = tuple(name.strip() for name in text.split(","))
    for name in names:
        if name not in SHEETS:
            raise argparse.ArgumentTypeError(f"there is no sheet {name!r}: choose from {', '.join(SHEETS)}")
    return names


def _doors(text: str) -> tuple[int, ...] | str:
    """Return "all", or the numbers of "1,3-4"."""
    return text if text == "all" else _numbers(text)


def _numbers(text: str) -> tuple[int, ...]:
    """Return the numbers of "3,8-10", each once, rising."""
    found: set[int] = set()
    for part in text.split(","):
        first, dash, last = part.strip().partition("-")
        if not (first.isdecimal() and (last.isdecimal() or not dash) and len(first) < 6 and len(last) < 6):
            raise argparse.ArgumentTypeError(f"{text!r} is no list of numbers: write 17, or 3,8-10")
        if dash and int(last) < int(first):
            raise argparse.ArgumentTypeError(f"{part.strip()!r} runs backwards: write {last}-{first}")
        found.update(range(int(first), int(last or first) + 1))
    return tuple(sorted(found))


def _front(path: Path) -> Front:
    """Return the front of a job file; every mistake comes out with the file's name and its line."""
    from facade.front import build_front
    from facade.job import read_job, with_lines

    job = None
    try:
        job = read_job(path)
        return build_front(job)
    except JobError as error:
        raise _named(path, with_lines(error, job) if job else error) from error


def _front_as_built(options: argparse.Namespace) -> tuple[Front, str, Callable[[], None]]:
    """Return the front with what the options say came out otherwise than designed, how a folder of this once is called, and what keeps it.

    With `--keep` the last writes it into the job file, and the folder is the job's own: "". The same road either way: a job with it.
    """
    said = {name: value for name in _AS_BUILT if (value := getattr(options, name, None))}
    if options.keep and not said:
        names = " or ".join(f"`--{name}`" for name in _AS_BUILT if hasattr(options, name))
        raise FacadeError(f"`--keep` needs something to keep: give {names} with it")
    if not said:
        return _front(options.job), "", lambda: None
    from facade.files import hash_of, put_over
    from facade.front import build_front
    from facade.job import read_job
    from facade.job.draft import with_as_built

    job = read_job(options.job)
    known = hash_of(options.job)
    for name in said.keys() - {"missing"}:
        _length(f"--{name}", said[name], job.unit)
    settings = {name: list(value) if name == "missing" else _as_typed(value) for name, value in said.items()}
    try:
        changed = with_as_built(job, options.job.parent, settings)
        front = build_front(changed)
    except JobError as error:
        raise _named(options.job, error) from error
    if changed is job:
        return front, "", lambda: None
    if not options.keep:
        return front, "-".join(f"{name}-{_in_name(value)}" for name, value in said.items()), lambda: None

    def keep() -> None:
        put_over(options.job, (changed.text or "").encode("utf-8"), known)
        typed = ", ".join(f"{name} = {json.dumps(value)}" for name, value in settings.items())
        _told(f"wrote into {options.job}, under [as_built]: {typed}")

    return front, "", keep


def _as_typed(text: str) -> float | str:
    """Return a length as a job file has it: a number in the job's unit, or a text that names its own."""
    try:
        return float(text)
    except ValueError:
        return text


def _in_name(value: str | Sequence[int]) -> str:
    """Return a value as part of a folder's name: "23", "180.9", "7-1-8-in"."""
    text = value if isinstance(value, str) else "-".join(map(str, value[:6]))
    return re.sub(r"[^0-9A-Za-z.]+", "-", text).strip("-.")


def _named(path: Path, error: JobError) -> FacadeError:
    """Return an error that names the job file at each of its mistakes."""
    return FacadeError("\n".join(f"{path}, {mistake}" for mistake in error.mistakes))


def _start(options: argparse.Namespace) -> int:
    from facade.files import put_new_files
    from facade.presets import preset, presets

    if options.preset is None:
        print("Start from one of these: facade start PRESET [FILE]\n")
        for one in presets().values():
            print(f"  {one.name:<18} {one.summary}")
        return DONE
    chosen = preset(options.preset)
    path = options.file or Path(f"{chosen.name}.toml")
    if path.is_dir():
        path /= f"{chosen.name}.toml"
    _refuse_name(path)
    beside = {path.parent / name: data for name, data in chosen.beside().items()}
    put_new_files({**beside, path: chosen.text.encode("utf-8")})
    written = ", ".join(map(str, [path, *beside]))
    _print([f"Wrote {written}. Change it in any editor, then: facade build {shlex.quote(str(path))}"])
    return DONE


def _refuse_name(path: Path) -> None:
    """Raise FileError for a name that a job file cannot have."""
    from facade.job.naming import refuse_name

    if path.suffix != ".toml" and path.name.lower() != ".toml":
        raise FileError(f"{path} must end in .toml, as job files do: call it {path.name}.toml")
    refuse_name(path.stem)


def _build(options: argparse.Namespace) -> int:
    began = time.perf_counter()
    from facade.build import replaced, write
    from facade.making import Output
    from facade.paper import usual_order

    front = _front(options.job)
    if Output.PAPER in options.only and (words := replaced(front, options.out, usual_order(front))):
        _told(words)
    build = write(
        front,
        options.out,
        outputs=map(Output, options.only),
        workers=options.workers,
        progress=_progress(),
        strict=options.strict,
        waiting=_told,
        shown=None if options.json else partial(_planned, front),
    )
    # Later than the strips are begun: it need not hold them up.
    from facade.screen import build_lines, kept_lines, stops

    if options.json:
        print(json.dumps(_build_data(build), indent=1))
    else:
        _print([*build_lines(front, build, time.perf_counter() - began), *kept_lines(build)])
    return max(STOPPED if stops(build.findings) else DONE, _proved(options, build.folder))


def _planned(front: Front, order: Order, pack: Pack) -> None:
    """Say how much paper the pack takes, before it is drawn."""
    from facade.screen import pack_lines

    _print(pack_lines(front, order, pack))
    sys.stdout.flush()


def _told(words: str) -> None:
    """Say what is waited for, where it does not get into what a program reads."""
    print(f"facade: {visible(words)}", file=sys.stderr, flush=True)


def _progress(thing: str = "strip") -> Progress | None:
    """Return a bar on the terminal, or nothing where no one would see it."""
    if not sys.stderr.isatty():
        return None

    def bar(done: int, total: int) -> None:
        full = 30 * done // total
        print(
            f"\r[{'#' * full}{'.' * (30 - full)}] {thing} {done} of {total}",
            end="\n" if done == total else "",
            file=sys.stderr,
            flush=True,
        )

    return bar


def _build_data(build: Build) -> dict[str, object]:
    return {
        "folder": str(build.folder),
        "mark": build.mark,
        "former_mark": build.former_mark,
        "findings": [finding.as_data() for finding in build.findings],
        "files": [
            {"name": file.name, "purpose": file.purpose, "size": file.size, "sha256": file.sha256}
            for file in build.files
        ],
        "kept": [{"saved_as": name, "now": now} for name, now in build.kept],
    }


def _paper(options: argparse.Namespace) -> int:
    began = time.perf_counter()
    from facade.screen import kept_lines, paper_lines, part_lines, plan_lines

    front, state, keep = _front_as_built(options)
    order = _order(front, options)
    part = "-".join(filter(None, (_part_name(options), state))) if _part_name(options) else ""
    if part:
        from facade.build import write_part

        keep()
        folder, pack = write_part(front, options.out, part, order, sheets=options.sheet, waiting=_told)
        shown = pack.count_of(options.sheet)
        if options.json:
            print(json.dumps(_part_data(front, folder, pack, options.sheet), indent=1))
        else:
            _print(part_lines(front, folder, pack, shown, time.perf_counter() - began))
        return STOPPED if pack.cleared is False else DONE
    from facade.build import replaced, write
    from facade.making import Output
    from facade.screen import stops

    beside = "-".join(filter(None, (state, _variant_name(options))))
    if words := replaced(front, options.out, order, beside=beside):
        _told(words)
    if not options.json:
        _print(plan_lines(front, order))
        sys.stdout.flush()
    keep()
    build = write(
        front,
        options.out,
        outputs=[Output.PAPER],
        progress=_progress("sheet"),
        order=order,
        again=options.all,
        waiting=_told,
        beside=beside,
    )
    if options.json:
        print(json.dumps(_build_data(build), indent=1))
    else:
        _print([*paper_lines(front, build, time.perf_counter() - began), *kept_lines(build)])
    return STOPPED if stops(build.findings) else DONE


def _order(front: Front, options: argparse.Namespace) -> Order:
    """Return how the pack is to be printed, from the options, the printer and the job."""
    from facade.paper import Order, doors_printed, usual_paper
    from facade.printing import papers, printers
    from facade.printing.correction import Correction
    from facade.templates.piece import Kind, Lines
    from facade.templates.ways import sheets_of, sheets_of_strips

    known = printers.printer(options.printer) if options.printer else None
    usual = usual_paper(front)
    margins = _margins(options.margins, front.job.unit) if options.margins else known.margins if known else None
    if options.paper and options.roll:
        raise FacadeError("give `--paper` or `--roll`, not both: a sheet comes from one of them")
    if options.roll:
        paper = papers.roll_paper(_length("--roll", options.roll, front.job.unit), front.job.ruler, margins)
    else:
        paper = papers.sheet_paper(options.paper or (known.paper if known else usual.name), margins)
    kinds = options.only or (sheets_of_strips if options.strip else sheets_of)(front.job)
    if options.door and options.strip:
        raise FacadeError("give `--door` or `--strip`, not both: a strip is on one door alone")
    usual_doors = () if options.strip else doors_printed(front)
    doors = () if options.door == "all" else options.door or usual_doors
    return Order(
        paper=paper,
        correction=known.correction if known else Correction(),
        lines=Lines(options.line),
        kinds=tuple(map(Kind, kinds)),
        strips=options.strip,
        doors=doors,
        by_strip=options.by == "strip",
    )


def _length(name: str, text: str, unit: Unit) -> float:
    from facade.lengths import read_length

    try:
        length = read_length(text, unit)
    except ValueError as error:
        raise FacadeError(f"`{name}` {error} (got {text!r})") from error
    if length <= 0:
        raise FacadeError(f"`{name}` must be more than 0 (got {text}): measure it with a steel rule")
    return length


def _margins(text: str, unit: Unit) -> Margins:
    from facade.lengths import read_length
    from facade.printing.papers import Margins

    try:
        sizes = [read_length(part, unit) for part in text.split(",")]
    except ValueError as error:
        raise FacadeError(f"`--margins` {error} (got {text!r})") from error
    if not 1 <= len(sizes) <= 2:
        raise FacadeError(f"`--margins` are one length, or two for sides and ends: 5 or 5,13 (got {text!r})")
    return Margins(sizes[0], sizes[-1])


def _part_name(options: argparse.Namespace) -> str:
    """Return what a part of the pack is called, "" for the whole pack."""
    parts = []
    doors = None if options.door == "all" else options.door
    for name, chosen in (("door", doors), ("strip", options.strip), ("sheet", options.sheet), ("", options.only)):
        if chosen:
            parts.append("-".join([name, *map(str, chosen[:6])] if name else chosen))
    return "-".join(parts)


def _variant_name(options: argparse.Namespace) -> str:
    """Return what a whole pack is called that is printed otherwise than usual, beside the one that stands: on a roll, with one line."""
    roll = f"roll-{_in_name(options.roll)}" if options.roll else ""
    return "-".join(filter(None, (roll, "" if options.line == "both" else f"line-{options.line}")))


def _part_data(front: Front, folder: Path, pack: Pack, sheets: Sequence[int] | None) -> dict[str, object]:
    from facade.paper import PDF, svg_name

    chosen = [sheet for sheet in pack.sheets if sheets is None or sheet.number in sheets]
    return {
        "folder": str(folder),
        "mark": front.mark,
        "cleared": pack.cleared,
        "files": [PDF, *(svg_name(pack, sheet.number, sheet.kind) for sheet in chosen)],
    }


def _cnc(options: argparse.Namespace) -> int:
    began = time.perf_counter()
    from facade.build import write
    from facade.cnc.order import Order, Route
    from facade.job import with_lines
    from facade.making import Output
    from facade.screen import cnc_lines, kept_lines, stops

    front, state, keep = _front_as_built(options)
    order = Order(Route(options.route), options.strip)
    try:
        keep()
        build = write(
            front,
            options.out,
            outputs=[Output(order.folder)],
            progress=_progress("file"),
            strict=options.strict,
            cnc=order,
            waiting=_told,
            beside=state,
        )
    except JobError as error:
        raise _named(options.job, with_lines(error, front.job)) from error
    if options.json:
        print(json.dumps(_build_data(build), indent=1))
    else:
        _print([*cnc_lines(front, build, order, time.perf_counter() - began), *kept_lines(build)])
    return max(STOPPED if stops(build.findings) else DONE, _proved(options, build.folder))


def _proved(options: argparse.Namespace, folder: Path) -> int:
    """Prove a folder where that is asked for, and return the exit code of it."""
    if not options.proof:
        return DONE
    if not options.json:
        print()
    return _prove(folder, as_data=False if not options.json else None)


def _proof(options: argparse.Namespace) -> int:
    return _prove(options.folder, as_data=options.json, anew=options.anew)


def _prove(folder: Path, *, as_data: bool | None, anew: bool = False) -> int:
    """Prove a folder, write its picture, say what came of it (as data, in words, or not at all), and return the exit code."""
    from facade.files import PROOF, put_pictures, unchanging
    from facade.proof import proof_data, proof_lines, proof_picture, prove

    with unchanging(folder, waiting=_told) as held:
        try:
            proof = prove(folder, _progress("file"), anew=anew)
        except JobError as error:
            raise _named(folder, error) from error
        put_pictures({folder / PROOF: proof_picture(proof)}, within=held)
    if as_data:
        print(json.dumps(proof_data(proof), indent=1))
    elif as_data is not None:
        _print([*proof_lines(proof), f"Look at {folder / PROOF}."])
    return STOPPED if proof.failed else DONE


def _printer(options: argparse.Namespace) -> int:
    from facade.lengths import Ruler, Unit
    from facade.printing import correction, papers, printers
    from facade.screen import printer_lines

    if options.name is None:
        _print(printer_lines(printers.printers().values()))
        return DONE
    if options.forget:
        _print([f"Forgot {options.name!r} ({printers.forget_printer(options.name)})."])
        return DONE
    if not options.name.strip():
        raise FacadeError('a printer needs a name of your own, such as "hall printer"')
    if options.short is None or options.long is None:
        raise FacadeError(
            f"type what both lines of the calibration sheet measure: facade printer {shlex.quote(options.name)} --short ... --long ..."
        )
    ruler = Ruler(Unit(options.unit), 64)
    margins = _margins(options.margins, ruler.unit) if options.margins else papers.Margins()
    paper = papers.sheet_paper(options.paper, margins)
    short, long = (_length(f"--{name}", getattr(options, name), ruler.unit) for name in ("short", "long"))
    found = correction.correction(options.name, ruler, short, long)
    kept = printers.Printer(options.name, paper.name, margins, found.short, found.long)
    path = printers.keep_printer(kept)
    _print(
        [
            f"{found.words[:1].upper()}{found.words[1:]}. Kept in {path}.",
            f"Print with it: facade paper JOB --printer {shlex.quote(options.name)}. Then check both rules of a sheet.",
        ]
    )
    return DONE


def _check(options: argparse.Namespace) -> int:
    from facade.checks import CHECKS, check_front
    from facade.drawing import printable
    from facade.screen import finding_lines, rule_lines, stops, strip_lines, verdict

    front = _front(options.job)
    if options.strip is not None:
        front.layout.strip(options.strip)
    findings = check_front(front)
    pictures = _check_pictures(front, findings, options.pictures) if options.pictures else []
    shown = findings if options.strip is None else [one for one in findings if one.strip == options.strip]
    if options.json:
        print(json.dumps(_check_data(front, findings, options.strip), indent=1))
        return STOPPED if stops(findings) else DONE
    print(f"{printable(front.job.title)}, mark {front.mark}: {verdict(findings)}")
    print(f"Checked: {', '.join(CHECKS)}.")
    for path in pictures:
        _print([f"Wrote {path}"])
    if options.strip is not None:
        _print(strip_lines(front, options.strip))
        print("\nFound on this strip:" if shown else "\nNothing found on this strip.")
    _print(finding_lines(shown, front.job.ruler))
    if options.strip is None:
        _print(rule_lines(front))
    return STOPPED if stops(findings) else DONE


def _print(lines: Iterable[str]) -> None:
    """Print lines; what a name or a title holds that would steer the terminal is left out."""
    for line in lines:
        print(visible(line))


def _pictures(options: argparse.Namespace) -> int:
    from facade.files import put_pictures
    from facade.job.model import FinishKind
    from facade.pictures import album

    front = _front(options.job)
    if options.finish:
        front = front.shown(front.job.picture.model_copy(update={"finish": FinishKind(options.finish)}))
    try:
        place = _place(options.detail, front.job.unit) if options.detail else None
        pictures = album(front, posture=options.eye, place=place)
    except JobError as error:
        raise _named(options.job, error) from error
    folder = options.out or Path(f"{options.job.stem}-pictures")
    for path in put_pictures({folder / name: data for name, data in pictures.items()}):
        _print([f"Wrote {path}"])
    return DONE


def _open(options: argparse.Namespace) -> int:
    from facade.web.serving import serve

    folder = Path.cwd()
    if options.job is not None:
        _front(options.job)
        folder = options.job.resolve().parent
    with suppress(KeyboardInterrupt):
        serve(folder, options.job, options.port, browser=not options.no_browser, said=partial(print, flush=True))
    return DONE


def _options(options: argparse.Namespace) -> int:
    from facade.files import put_pictures
    from facade.options import NOTES, axes_of, explore, notes_of, options_page, options_sheet
    from facade.screen import option_lines

    job = _front(options.job).job
    folder = options.out if options.out and not options.take else Path(f"{options.job.stem}-options")
    if options.take:
        return _take(options, folder / NOTES)
    began = time.perf_counter()
    try:
        axes = axes_of(job, options.vary)
        with _executor(options.cluster) as executor:
            found = explore(
                job,
                axes,
                folder=options.job.parent,
                count=options.count,
                shown=options.show,
                seed=options.seed,
                everything=options.all,
                executor=executor,
                progress=_progress("variant"),
            )
    except JobError as error:
        raise _named(options.job, error) from error
    sheet = options_sheet(found)
    made = {
        "options.png": sheet.png,
        "options.pdf": sheet.pdf,
        "options.html": options_page(found),
        NOTES: notes_of(found),
    }
    written = put_pictures({folder / name: data for name, data in made.items()})
    _print(option_lines(found, written, options.job, time.perf_counter() - began))
    return DONE


def _take(options: argparse.Namespace, notes: Path) -> int:
    from facade.files import mend_files, put_new_files
    from facade.options import take

    job = _front(options.job).job
    mend_files(notes.parent)
    text, mark = take(job, options.job.parent, notes, options.take)
    path = options.out or options.job.with_name(f"{options.job.stem}-{options.take.lower()}.toml")
    _refuse_name(path)
    beside = {path.parent / name: data for layer in job.layers for name, data in layer.files().items()}
    put_new_files({**beside, path: text.encode("utf-8")})
    _print([f"Wrote {path}, mark {mark}. Build it: facade build {shlex.quote(str(path))}"])
    return DONE


@contextmanager
def _executor(address: str | None) -> Iterator[Executor | None]:
    """Give the executor of a Dask cluster, or none where no address is given."""
    if address is None:
        yield None
        return
    try:
        from distributed import Client
    except ImportError as error:
        raise FacadeError('`--cluster` needs the extra "cluster": install facade[cluster]') from error
    try:
        client: Any = cast(Any, Client)(address, timeout=10)
    except (OSError, ValueError) as error:
        raise FacadeError(
            f"`--cluster` must be the address of a Dask scheduler that answers (got {address}): {error}"
        ) from error
    with client, client.get_executor() as executor:
        yield executor


def _place(text: str, unit: Unit) -> tuple[float, float]:
    x, comma, y = text.partition(",")
    if not comma:
        raise FacadeError(f"`--detail` must be two lengths with a comma between, such as 400,300 (got {text!r})")
    return _length("--detail", x.strip(), unit), _length("--detail", y.strip(), unit)


def _check_pictures(front: Front, findings: Sequence[Finding], folder: Path) -> list[Path]:
    from facade.build import check_pictures
    from facade.files import put_pictures

    return put_pictures({folder / name: data for name, data in check_pictures(front, findings).items()})


def _check_data(front: Front, findings: Sequence[Finding], strip: int | None) -> dict[str, object]:
    from dataclasses import asdict

    from facade.checks import CHECKS
    from facade.screen import stops

    data: dict[str, object] = {
        "title": front.job.title,
        "mark": front.mark,
        "cleared": not stops(findings),
        "checked": list(CHECKS),
        "lengths_here": "mm",
        "findings": [finding.as_data() for finding in findings if strip in (None, finding.strip)],
    }
    if strip is not None:
        data["strip"] = asdict(front.measures()[strip - 1])
    return data


def _relax(options: argparse.Namespace) -> int:
    from facade.files import put_new_files
    from facade.pictures import relaxed_picture
    from facade.relaxing import relax
    from facade.screen import relaxed_lines

    front = _front(options.job)
    path = options.file or options.job.with_name(f"{options.job.stem}-relaxed.toml")
    _refuse_name(path)
    progress = _said if sys.stderr.isatty() else None
    relaxed = relax(front.job, options.job.parent, progress, looks=options.looks)
    written = []
    if relaxed.changes:
        beside = {path.parent / name: data for layer in front.job.layers for name, data in layer.files().items()}
        picture = relaxed_picture(relaxed.before, relaxed.after, relaxed.moved.most)
        put_new_files({**beside, path: relaxed.text.encode("utf-8"), path.with_suffix(".png"): picture})
        written = [path, path.with_suffix(".png")]
    if options.json:
        print(json.dumps(_relaxed_data(relaxed, written), indent=1))
    else:
        _print(relaxed_lines(relaxed, written, looks=options.looks))
    return STOPPED if any(finding.stops for finding in relaxed.left) else DONE


def _said(words: str) -> None:
    print(f"looking at {words[:1].lower()}{words[1:]}", file=sys.stderr)


def _relaxed_data(relaxed: Relaxed, written: Sequence[Path]) -> dict[str, object]:
    from dataclasses import asdict

    return {
        "mark_before": relaxed.before.mark,
        "mark_after": relaxed.after.mark,
        "changes": relaxed.changes,
        "lengths_here": "mm",
        "moved": asdict(relaxed.moved),
        "seen": asdict(relaxed.seen),
        "cleared": not any(finding.stops for finding in relaxed.left),
        "left": [finding.as_data() | {"refused": relaxed.why(finding)} for finding in relaxed.left],
        "files": list(map(str, written)),
    }


def _reliefs(options: argparse.Namespace) -> int:
    from facade.reliefs.catalogue import common_parameters, kinds, parameters

    known = kinds()
    if options.kind is not None and options.kind not in known:
        from facade.job.mistakes import nearest

        raise FacadeError(f"there is no relief {options.kind!r}: {nearest(options.kind, known)}")
    if options.pictures is not None:
        return _relief_pictures(options.pictures, [options.kind] if options.kind else list(known))
    if options.json:
        chosen = {options.kind: known[options.kind]} if options.kind else known
        print(
            json.dumps({name: _relief_data(kind.summary, parameters(kind)) for name, kind in chosen.items()}, indent=1)
        )
    elif options.kind is None:
        print("Kinds of relief; more on one with: facade reliefs KIND\n")
        for name, kind in known.items():
            print(f"  {name:<8} {kind.summary}")
    else:
        print(f"{options.kind}: {known[options.kind].summary}\n")
        _print_parameters(parameters(known[options.kind]))
        print("\nEvery layer can also have:\n")
        _print_parameters(common_parameters())
    return DONE


def _relief_data(summary: str, found: Sequence[Parameter]) -> dict[str, object]:
    from dataclasses import asdict

    return {"summary": summary, "parameters": [asdict(parameter) for parameter in found]}


def _print_parameters(found: Sequence[Parameter], indent: str = "  ") -> None:
    for one in found:
        default = "must be given" if one.required else _default(one.default)
        print(f"{indent}{one.name:<14} {one.about}")
        print(f"{indent}{'':<14} {'; '.join(part for part in (one.limits, default) if part)}")
        _print_parameters(one.parts, indent + "    ")


def _default(value: object) -> str:
    if value is None or value == ():
        return ""
    if isinstance(value, tuple):
        return f"default {', '.join(f'{part:g}' for part in value)}"
    return f"default {value:g}" if isinstance(value, float) else f"default {value}"


def _relief_pictures(folder: Path, kinds: Sequence[str]) -> int:
    from facade.files import put_new_files
    from facade.pictures import relief_picture

    for kind in kinds:
        path = folder / f"{kind}.png"
        put_new_files({path: relief_picture(kind)})
        print(path)
    return DONE


def _schema(options: argparse.Namespace) -> int:
    from facade.job.schema import job_schema_text

    if options.out is None:
        print(job_schema_text(), end="")
        return DONE
    from facade.files import put_new_files

    put_new_files({options.out: job_schema_text().encode("utf-8")})
    _print(
        [
            f"Wrote {options.out}. Editors that know JSON Schema use it when the job file's first line names it:",
            f"#:schema ./{options.out.name}",
        ]
    )
    return DONE
