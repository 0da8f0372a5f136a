"""Building: everything that is made from a front, into one folder, whole or not at all."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from facade.cnc import pack as cnc_pack
from facade.cnc.making import Making, begun
from facade.cnc.order import Order as CncOrder
from facade.cnc.order import Route
from facade.doors.spreading import as_built_in_words
from facade.errors import NotCleared, mistake
from facade.exporters.pdf import make_ready
from facade.exporters.stl import facets, to_stl
from facade.exporters.tables import offsets_head, parts_head
from facade.files import (
    MANIFEST,
    Written,
    carry_over,
    foreign_files,
    held,
    is_whole,
    mend,
    new_folder,
    put,
    read_manifest,
    refuse_foreign,
)
from facade.front import GEOMETRY, Front
from facade.job import Job
from facade.locks import PATIENCE, Told
from facade.making import USUAL, Output, StripMade, side_name, solid_name, strips_being_made, worthwhile_workers
from facade.mesh import Grid, closed_solid, rounded_up
from facade.paper import (
    Issued,
    Order,
    Prepared,
    changed_since,
    file_names,
    is_of_pack,
    issued_again,
    issued_before,
    pack_of,
    paper_files,
    prepared,
    prepared_again,
)
from facade.templates.pack import Pack
from facade.version import __version__

if TYPE_CHECKING:
    from facade.checks import Finding

PURPOSES = {
    Output.SIDES: "full-size template of both sides of a strip: print at 100 %, stick or trace, saw and carve to its lines",
    Output.STRIPS: "one strip as a closed solid in mm, back at z = 0, for CNC and preview",
    Output.OFFSETS: "table of offsets: heights at stations, to be plotted without a printer",
    Output.PARTS: "part list: size, neighbours, thinnest place, waste and slopes of every strip",
    Output.SOLID: "all strips in their places as one file of closed solids in mm, for preview",
    Output.VIEW: "the front in 3-D for a phone or a browser, in metres",
    Output.PICTURE: "the front as it will look under a raking light, for the client",
    Output.REPORT: "the front to turn and to light in any browser, one file that asks for nothing",
    Output.PAPER: "the paper pack, true to size: print paper.pdf at 100 %; the same sheets as SVG in paper/",
    Output.CHECK: "where the checks found something, marked on the front; thickness and slope of every strip",
}
_FIRST_LOOK = (
    "front.png",
    "front.html",
    "check.png",
    "paper.pdf",
    "paper/",
    "sides/",
    "cnc-side/",
    "cnc-face/",
    "offsets.csv",
    "parts.csv",
    "strips/",
    "front.stl",
    "front.glb",
)
CHECK, OPENING = "check.png", "opening.png"
JOB_PURPOSE = "the job file as it was when this was made, and what it reads"


@dataclass(frozen=True)
class Made:
    """A file of a build, with what it is for."""

    name: str
    purpose: str
    size: int
    sha256: str


@dataclass(frozen=True)
class Build:
    """What a build has made and where, what the checks found, and the mark its folder held before, if that was another.

    `held_back` are the strips whose sheets were printed before and are still good; `kept` are files of others that were saved under
    names that the build needed, each with the name that it has now. `anew` is False where nothing had changed since the folder was
    made, and nothing was made anew.
    """

    folder: Path
    mark: str
    files: tuple[Made, ...]
    findings: tuple[Finding, ...]
    former_mark: str | None
    pack: Pack | None = None
    held_back: tuple[int, ...] = ()
    kept: tuple[tuple[str, str], ...] = ()
    anew: bool = True


Progress = Callable[[int, int], None]
_Result = TypeVar("_Result")
# What is made for a machine, by processes of their own.
_FOR_MACHINES = {Output.CNC_SIDE, Output.CNC_FACE}


def write(
    front: Front,
    folder: str | Path = "out",
    *,
    outputs: Iterable[Output] = USUAL,
    workers: int | None = 1,
    progress: Progress | None = None,
    strict: bool = False,
    order: Order | None = None,
    again: bool = True,
    cnc: CncOrder | None = None,
    patience: float = PATIENCE,
    waiting: Told | None = None,
    beside: str = "",
    shown: Callable[[Order, Pack], None] | None = None,
) -> Build:
    """Write what is asked for to `folder`/<the job file's name>/ and return what was made.

    With `beside` it goes to `folder`/<the job file's name>-<beside>/: what stands under the job's own name stays.

    The folder is whole or as it was before, and is held against its manifest before this returns; files in it that are not ours stay.
    Where it holds, byte for byte, what the very same job and order would give again, nothing is made anew.
    Who writes there at the same time is waited for, `patience` seconds at most; `waiting` is told who that is.
    `workers` processes share the strips, None for as many as pay (a script that asks for several needs
    an `if __name__ == "__main__"`); the bytes do not depend on it. `progress(done, total)` is called after every strip.
    When a finding stops the job, every sheet is marked NOT CLEARED; with `strict` nothing is written and NotCleared raised.
    `cnc` says how files for a machine are made; an output of a route without one gets the usual.
    `shown` is told of the paper pack before any of it is written. `order` says how it is printed, and puts down in the manifest
    that it was; without `again` sheets that were printed before and show the same are left out.
    Raises FileError when the folder cannot be written or a foreign file is in the way.
    """
    wanted = frozenset(outputs)
    if strict:
        from facade.checks import check_front

        _refuse_uncleared(
            [*check_front(front), *(one for route in _routes(wanted, cnc) for one in cnc_pack.findings(front, route))]
        )
    with held(_target(front, folder, beside), patience=patience, waiting=waiting) as place:
        target = place.target
        former = read_manifest(target)
        routes = _routes(wanted, cnc)
        names = {*_names(front, wanted), *_job_files(front.job), MANIFEST}
        names |= {name for route in routes for name in cnc_pack.names(front, route)}

        if not routes and (same := _unchanged(front, target, wanted, order, names, again=again)):
            return same

        def planned() -> Prepared:
            paper = prepared(front, order, former, again=again)
            refuse_foreign(place, set(file_names(paper.pack)))
            if shown:
                shown(paper.order, paper.pack)
            return paper

        with new_folder(place, names) as fresh:
            made, findings, routes, paper = _filled(front, fresh, wanted, planned, routes, workers, progress)
            made += _kept(front, target, fresh, former, names, pack_anew=paper is not None, routes=routes)
            made.sort(key=lambda file: file.name)
            record = paper.record if paper else issued_before(former)
            orders = _orders(front, former, wanted, paper, routes)
            put(fresh, MANIFEST, _manifest(front, made, findings, record, orders))
    former_mark = former["mark"] if former and former["mark"] != front.mark else None
    pack, held_back = (paper.pack, paper.held_back) if paper else (None, ())
    told = (*(finding for route in routes for finding in route.findings), *findings)
    return Build(target, front.mark, tuple(made), told, former_mark, pack, held_back, tuple(place.kept))


def _target(front: Front, folder: str | Path, beside: str) -> Path:
    return Path(folder) / (f"{front.job.name}-{beside}" if beside else front.job.name)


def replaced(front: Front, folder: str | Path, order: Order, *, beside: str = "") -> str:
    """Return in words which pack stands where this order will be written, "" where none does, or one of the same plan and paper."""
    target = _target(front, folder, beside)
    former = read_manifest(target)
    sheets = sum(file["name"].startswith("paper/") for file in former["files"]) if former else 0
    if former is None or not sheets:
        return ""
    printed = former.get("paper")
    paper = printed["order"]["paper"]["name"] if printed else order.paper.name
    if former["mark"] == front.mark and paper == order.paper.name:
        return ""
    was, now = former.get("as_built") or "as designed", as_built_in_words(front) or "as designed"
    return (
        f"{target} holds {sheets} sheets of {paper} with mark {former['mark']}, {was}: this pack with mark {front.mark}, {now}, on "
        f"{order.paper.name}, replaces them"
    )


def _unchanged(
    front: Front, target: Path, wanted: frozenset[Output], order: Order | None, names: set[str], *, again: bool
) -> Build | None:
    """Return a build of a folder that would be made again as it is, None where anything differs: job, version, order, any file."""
    former = read_manifest(target)
    if former is None or former.get("settings") != _settings(front) or _code_changed_since(target / MANIFEST):
        return None
    if not {output.value for output in wanted} <= {*former.get("outputs", ())} or not is_whole(target):
        return None
    from facade.checks import check_front

    findings = check_front(front)
    paper = prepared(front, order, former, again=again) if Output.PAPER in wanted else None
    names = {*names, *(file_names(paper.pack) if paper else ())} - {MANIFEST}
    try:
        made = [Made(**file) for file in former["files"]]
    except TypeError:
        return None
    record = paper.record if paper else issued_before(former)
    text = _manifest(front, made, findings, record, _orders(front, former, wanted, paper, ()))
    if not names <= {file.name for file in made} or (target / MANIFEST).read_text("utf-8") != text:
        return None
    pack, held_back = (paper.pack, paper.held_back) if paper else (None, ())
    return Build(target, front.mark, tuple(made), tuple(findings), None, pack, held_back, anew=False)


def _code_changed_since(path: Path) -> bool:
    """Whether a file of this package is newer than another file: one version can be changed, or put in place again."""
    own = (file for file in Path(__file__).parent.rglob("*") if file.suffix != ".pyc" and file.is_file())
    return any(file.stat().st_mtime > path.stat().st_mtime for file in own)


def _filled(
    front: Front,
    fresh: Path,
    wanted: frozenset[Output],
    planned: Callable[[], Prepared],
    routes: Sequence[CncOrder],
    workers: int | None,
    progress: Progress | None,
) -> tuple[list[Made], list[Finding], list[CncOrder], Prepared | None]:
    """Make everything that is wanted into a folder; return the files, what the checks found, the routes with what they found, the pack.

    The pack is planned after the strips, whose measures it asks for.
    """
    done: list[_RouteMade] = []
    paper = None
    if routes and wanted <= _FOR_MACHINES:
        # Nothing else takes the cores: the first route is begun while the front is checked, as if nothing stopped it.
        front.measures()
        with _begun(front, routes[0], fresh) as under_way:
            made, findings = _strips_and_whole(front, fresh, wanted, workers, progress)
            done += [] if _stopped(findings) else [_taken(under_way, progress)]
    else:
        made, findings = _strips_and_whole(front, fresh, wanted, workers, progress)
        paper = planned() if Output.PAPER in wanted else None
        if paper:
            made += _put_paper(paper, fresh, findings, progress, wanted)
        elif Output.CHECK in wanted:
            made += _put_check(front, fresh, findings)
    for route in routes[len(done) :]:
        with _begun(front, replace(route, cleared=not _stopped(findings)), fresh) as under_way:
            done.append(_taken(under_way, progress))
    for index, (order, files) in enumerate(done):
        if files is None:
            with _begun(front, order, fresh) as under_way:
                done[index] = _taken(under_way, progress)
    made += [file for _, files in done for file in files or ()]
    return [*made, *_put_job(front.job, fresh)], findings, [order for order, _ in done], paper


def _stopped(findings: Iterable[Finding]) -> bool:
    return any(finding.stops for finding in findings)


def make_again(front: Front, fresh: Path, manifest: dict[str, Any], progress: Progress | None = None) -> list[Made]:
    """Make what a manifest keeps the orders of once more, into an empty folder, and return the files with the manifest itself.

    Raises KeyError, TypeError or ValueError where it keeps none, JobError where one cannot be followed.
    """
    wanted = frozenset(map(Output, manifest["outputs"]))
    routes = [CncOrder.of_data(Route(name), data) for name, data in manifest.get("cnc", {}).items()]
    made, findings, routes, paper = _filled(
        front, fresh, wanted, lambda: prepared_again(front, manifest["paper"]), routes, None, progress
    )
    made.sort(key=lambda file: file.name)
    orders = _orders(front, manifest, wanted, paper, routes)
    written = put(fresh, MANIFEST, _manifest(front, made, findings, issued_again(front, manifest), orders))
    return [*made, Made(written.name, "", written.size, written.sha256)]


def _orders(
    front: Front,
    former: dict[str, Any] | None,
    wanted: frozenset[Output],
    paper: Prepared | None,
    routes: Sequence[CncOrder],
) -> dict[str, Any]:
    """Return what the manifest keeps of what was asked for and how, what an earlier run of the same job was asked for among it."""
    known = former if former and former.get("settings") == _settings(front) else {}
    outputs = sorted({*(output.value for output in wanted), *known.get("outputs", ())})
    printed = paper.as_data() if paper else known.get("paper")
    cnc = {**known.get("cnc", {}), **{order.route.value: order.as_data() for order in routes}}
    return {"outputs": outputs, **({"paper": printed} if printed else {}), **({"cnc": cnc} if cnc else {})}


def _routes(wanted: frozenset[Output], cnc: CncOrder | None) -> list[CncOrder]:
    """Return the orders of the routes that are wanted: as given, or the usual."""
    found = [CncOrder(route) for route in Route if Output(f"cnc-{route.value}") in wanted]
    return [cnc if cnc and cnc.route is order.route else order for order in found]


def _refuse_uncleared(findings: list[Finding]) -> None:
    about = dict.fromkeys(finding.check for finding in findings if finding.stops)
    if about:
        raise NotCleared(
            f"nothing was written, for the checks stop it ({', '.join(about)}): `facade check` says where and why"
        )


def summary(build: Build) -> list[tuple[str, int, int, str]]:
    """Return what was made, what to look at first in front: name, count, size in bytes, purpose; a folder is one."""
    groups: dict[str, list[Made]] = {}
    for file in build.files:
        folder, slash, _ = file.name.partition("/")
        groups.setdefault(folder + slash, []).append(file)
    order = [name for name in _FIRST_LOOK if name in groups] + [name for name in groups if name not in _FIRST_LOOK]
    return [
        (name, len(groups[name]), sum(file.size for file in groups[name]), groups[name][0].purpose) for name in order
    ]


def _names(front: Front, wanted: frozenset[Output]) -> Iterator[str]:
    """Yield the names of what is wanted, but for those of the paper pack and of routes."""
    for number in front.numbers:
        if Output.SIDES in wanted:
            yield side_name(front, number)
        if Output.STRIPS in wanted:
            yield solid_name(front, number)
    yield from (_WHOLE[output] for output in _WHOLE if output in wanted)
    if Output.CHECK in wanted and front.job.opening:
        yield OPENING


_WHOLE = {
    Output.OFFSETS: "offsets.csv",
    Output.PARTS: "parts.csv",
    Output.SOLID: "front.stl",
    Output.VIEW: "front.glb",
    Output.PICTURE: "front.png",
    Output.REPORT: "front.html",
    Output.CHECK: CHECK,
}


def _strips_and_whole(
    front: Front, fresh: Path, wanted: frozenset[Output], workers: int | None, progress: Progress | None
) -> tuple[list[Made], list[Finding]]:
    """Draw the picture and ask the surface while the strips are being made; then check, and make what all strips give."""
    count = worthwhile_workers(front) if workers is None else workers
    if count < 1:
        raise mistake("workers", f"`workers` must be at least 1 (got {count}): 1 is always enough")
    made = []
    with strips_being_made(front, fresh, wanted, count) as results:
        if Output.PICTURE in wanted:
            made.append(_put_picture(front, fresh))
        if Output.REPORT in wanted:
            made.append(_put_report(front, fresh))
        from facade.checks import BEFORE_STRIPS, CHECKS, check_front

        early = {name: CHECKS[name](front) for name in BEFORE_STRIPS}
        strips, solids = [], []
        for strip in _counted(results, len(front.numbers), progress):
            strips.append(strip)
            solids += [_facets(*strip.whole)] if strip.whole else []
    if strips:
        front.keep_measures(strip.measures for strip in strips)
    findings = check_front(front, known=early)
    sheets = [strip.side for strip in strips if strip.side]
    if sheets and any(finding.stops for finding in findings):
        # Rare enough to draw the sheets a second time, rather than to measure all strips before any is drawn.
        with strips_being_made(front, fresh, frozenset({Output.SIDES}), count, cleared=False) as results:
            sheets = [strip.side for strip in results if strip.side]
    made += [_made(side, Output.SIDES) for side in sheets]
    made += [_made(strip.solid, Output.STRIPS) for strip in strips if strip.solid]
    return [*made, *_put_whole(front, fresh, wanted, strips, solids)], findings


def _counted(results: Iterable[_Result], total: int, progress: Progress | None) -> Iterator[_Result]:
    for done, result in enumerate(results, start=1):
        if progress:
            progress(done, total)
        yield result


def _made(written: Written, output: Output, more: str = "") -> Made:
    return Made(written.name, PURPOSES[output] + more, written.size, written.sha256)


def _put_picture(front: Front, fresh: Path) -> Made:
    from facade.pictures import light_words, pictured

    data, contrast = pictured(front)
    said = f"; {light_words(front.job.picture)}, bright slopes to dark ones {contrast:.1f} : 1"
    return _made(put(fresh, _WHOLE[Output.PICTURE], data), Output.PICTURE, said)


def _put_report(front: Front, fresh: Path) -> Made:
    from facade.viewing.report import report

    return _made(put(fresh, _WHOLE[Output.REPORT], report(front)), Output.REPORT)


def check_pictures(front: Front, findings: Sequence[Finding]) -> dict[str, bytes]:
    """Return the pictures of what the checks found, by name: the front, and the opening where it was measured."""
    from facade.pictures import check_picture

    pictures = {CHECK: check_picture(front, findings)}
    if front.job.opening:
        from facade.pictures.opening import opening_picture

        pictures[OPENING] = opening_picture(front)
    return pictures


def _put_check(front: Front, fresh: Path, findings: list[Finding]) -> list[Made]:
    purposes = {CHECK: PURPOSES[Output.CHECK], OPENING: "the opening as it was measured, and the front in it"}
    written = [put(fresh, name, data) for name, data in check_pictures(front, findings).items()]
    return [Made(one.name, purposes[one.name], one.size, one.sha256) for one in written]


Facets = tuple[bytes, float]
"""A strip's part of front.stl, and how close it is to the surface, mm."""


def _facets(grid: Grid, tolerance: float) -> Facets:
    return facets(closed_solid(grid)), tolerance


def _put_whole(
    front: Front, fresh: Path, wanted: frozenset[Output], strips: list[StripMade], solids: list[Facets]
) -> Iterator[Made]:
    """Write what all strips together give."""
    if Output.OFFSETS in wanted:
        text = offsets_head(front) + "".join(strip.offsets for strip in strips)
        yield _made(put(fresh, _WHOLE[Output.OFFSETS], text), Output.OFFSETS)
    if Output.PARTS in wanted:
        text = parts_head(front) + "".join(strip.parts for strip in strips)
        yield _made(put(fresh, _WHOLE[Output.PARTS], text), Output.PARTS)
    if Output.SOLID in wanted:
        yield _put_solid(front, fresh, solids)
    if Output.VIEW in wanted:
        yield _put_view(front, fresh, [strip.view for strip in strips if strip.view])


def _put_solid(front: Front, fresh: Path, solids: list[Facets]) -> Made:
    header = f"facade, unit mm, mark {front.mark}, {len(front.numbers)} strips"
    data = to_stl((some for some, _ in solids), header)
    close = _closeness(max(tolerance for _, tolerance in solids))
    return _made(put(fresh, _WHOLE[Output.SOLID], data), Output.SOLID, close)


def _put_view(front: Front, fresh: Path, grids: list[tuple[Grid, float]]) -> Made:
    from facade.exporters.glb import to_glb

    data = to_glb(front, [grid for grid, _ in grids])
    close = _closeness(max(tolerance for _, tolerance in grids))
    return _made(put(fresh, _WHOLE[Output.VIEW], data), Output.VIEW, close)


def _closeness(tolerance: float) -> str:
    return f"; facets within {rounded_up(tolerance):g} mm of the surface"


def _put_paper(
    paper: Prepared, fresh: Path, findings: list[Finding], progress: Progress | None, wanted: frozenset[Output]
) -> list[Made]:
    """Draw the pictures of what the checks found beside the sheets."""
    stops = tuple(finding for finding in findings if finding.stops)
    pack = replace(paper.pack, cleared=not stops, stops=stops)
    checked: list[Made] = []

    def meanwhile() -> None:
        make_ready()
        if Output.CHECK in wanted:
            checked.extend(_put_check(pack.front, fresh, findings))

    made = [
        _made(put(fresh, name, data), Output.PAPER)
        for name, data in paper_files(pack, progress=progress, meanwhile=meanwhile)
    ]
    return made + checked


_Begun = tuple[Making[Made], Iterator[Any]]
"""A route's making, and what comes of its tasks."""
_RouteMade = tuple[CncOrder, list[Made] | None]
"""An order with what its route has found, and its files; None where they must be made anew, for what was found stops them."""


@contextmanager
def _begun(front: Front, order: CncOrder, fresh: Path) -> Iterator[_Begun]:
    """Begin with the files of a route, each of which is written into a folder by the process that makes it."""
    making = cnc_pack.making(front, order, partial(_put_route_file, fresh))
    with begun(making) as results:
        yield making, results


def _put_route_file(fresh: Path, file: tuple[str, bytes, str]) -> Made:
    name, data, purpose = file
    written = put(fresh, name, data)
    return Made(written.name, purpose, written.size, written.sha256)


def _taken(under_way: _Begun, progress: Progress | None) -> _RouteMade:
    """Return what comes of a route that was begun."""
    making, results = under_way
    own = tuple(making.findings(results))
    order = replace(making.order, findings=own, cleared=making.order.cleared and not _stopped(own))
    if order.cleared != making.order.cleared:
        return order, None
    return order, list(_counted(making.files(results), len(cnc_pack.names(making.front, order)), progress))


def write_part(
    front: Front,
    folder: str | Path,
    name: str,
    order: Order,
    *,
    sheets: Collection[int] | None = None,
    patience: float = PATIENCE,
    waiting: Told | None = None,
) -> tuple[Path, Pack]:
    """Write some sheets alone to `folder`/<the job file's name>-`name`/ and return where, and the pack they are of.

    The rest of what was made stays as it is. What the checks said is taken from the last build of the very same job; where there
    is none the sheets say so. Raises FileError when the folder cannot be written or a foreign file is in the way.
    """
    mend(Path(folder) / front.job.name)
    whole = read_manifest(Path(folder) / front.job.name)
    known = whole is not None and whole.get("settings") == _settings(front)
    before = issued_before(whole)
    new = changed_since(front, before) if before and before.mark != front.mark else None
    cleared = bool(whole["cleared"]) if whole and known else None
    pack = replace(
        pack_of(front, order), new=new, cleared=cleared, stops=_stops_told(whole) if cleared is False else ()
    )
    target = Path(folder) / f"{front.job.name}-{name}"
    with (
        held(target, patience=patience, waiting=waiting) as place,
        new_folder(place, {*file_names(pack), MANIFEST}) as fresh,
    ):
        made = [_made(put(fresh, *file), Output.PAPER) for file in paper_files(pack, sheets)]
        put(fresh, MANIFEST, _part_manifest(front, made))
    return target, pack


def _stops_told(manifest: dict[str, Any] | None) -> tuple[Finding, ...]:
    """Return what stops a job by the manifest of its last build, as far as that can be read."""
    from facade.checks import Finding, Weight

    try:
        said = [one for one in (manifest or {})["findings"] if one["weight"] == Weight.STOPS.value]
        return tuple(Finding(**{**one, "weight": Weight.STOPS}) for one in said)
    except (KeyError, TypeError):
        return ()


def _part_manifest(front: Front, made: list[Made]) -> str:
    content = {
        "made_by": f"facade {__version__}",
        "mark": front.mark,
        "title": front.job.title,
        "files": [asdict(file) for file in made],
    }
    return json.dumps(content, indent=1, ensure_ascii=False) + "\n"


def _job_files(job: Job) -> dict[str, bytes]:
    """Return the job file and what it reads, by their names in the build's folder."""
    files = {f"job/{job.name}.toml": job.text.encode("utf-8")} if job.text is not None else {}
    return {**files, **{f"job/{name}": data for layer in job.layers for name, data in layer.files().items()}}


def _put_job(job: Job, fresh: Path) -> list[Made]:
    written = [put(fresh, name, data) for name, data in _job_files(job).items()]
    return [Made(file.name, JOB_PURPOSE, file.size, file.sha256) for file in written]


def _kept(
    front: Front,
    target: Path,
    fresh: Path,
    former: dict[str, Any] | None,
    names: set[str],
    *,
    pack_anew: bool,
    routes: Sequence[CncOrder],
) -> list[Made]:
    """Keep what an earlier build of the very same job has made and this one was not asked for; nothing of an earlier pack or route."""
    if former is None or former.get("settings") != _settings(front):
        return []
    foreign = {path.relative_to(target).as_posix() for path in foreign_files(target)}
    there = [file for file in former["files"] if (target / file["name"]).is_file()]
    old = [Made(**file) for file in there if file["name"] not in names | foreign]
    old = [file for file in old if not (pack_anew and is_of_pack(file.name))]
    old = [file for file in old if not any(cnc_pack.is_of_route(file.name, order) for order in routes)]
    carry_over(target, fresh, (file.name for file in old))
    return old


def _settings(front: Front) -> str:
    """Return the fingerprint of everything that decides the bytes: job, version, how it is printed."""
    text = f"{__version__}\n{front.mark}\n{front.job.model_dump_json()}"
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def _manifest(
    front: Front, made: list[Made], findings: list[Finding], record: Issued | None, orders: dict[str, Any]
) -> str:
    job, layout = front.job, front.layout
    content = {
        "made_by": f"facade {__version__}",
        "mark": front.mark,
        "geometry": GEOMETRY,
        "settings": _settings(front),
        "title": job.title,
        "unit": job.unit.value,
        "lengths_here": "mm",
        "front": {
            "width": layout.width,
            "height": layout.height,
            "doors": len(layout.doors),
            "strips": len(layout.strips),
        },
        **({"as_built": as_built} if (as_built := as_built_in_words(front)) else {}),
        "cleared": not any(finding.stops for finding in findings),
        "findings": [finding.as_data() for finding in findings],
        **({"printed": record.as_data()} if record else {}),
        **orders,
        "files": [asdict(file) for file in made],
    }
    return json.dumps(content, indent=1, ensure_ascii=False) + "\n"
