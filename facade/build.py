"""Building: everything that is made from a front, into one folder, whole or not at all."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import asdict, dataclass
from enum import StrEnum
from importlib.metadata import version
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from facade.checks import Finding, check_front
from facade.errors import mistake
from facade.files import MANIFEST, Written, carry_over, new_folder, put, read_manifest
from facade.front import GEOMETRY, Front, build_front
from facade.job import Job
from facade.mesh import Grid, closed_solid, strip_grid, thinned_grid
from facade.slicer import Strip

# The whole front as one solid is for looking at: its facets stay this close to the surface, mm, while there are at most
# so many heights in it; a wall gets a coarser picture instead of a file that nothing opens.
PREVIEW_TOLERANCE = 0.01
PREVIEW_HEIGHTS = 1_000_000
# From so many heights on, several processes are quicker than one; starting them takes about half a second.
WORTH_WORKERS = 6_000_000


class Output(StrEnum):
    """What can be made."""

    SIDES = "sides"
    STRIPS = "strips"
    OFFSETS = "offsets"
    PARTS = "parts"
    SOLID = "solid"
    VIEW = "view"
    PICTURE = "picture"


PURPOSES = {
    Output.SIDES: "full-size template of both sides of a strip: print at 100 %, stick or trace, saw and carve to its lines",
    Output.STRIPS: "one strip as a closed solid in mm, back at z = 0, for CNC and preview",
    Output.OFFSETS: "table of offsets: heights at stations, to be plotted without a printer",
    Output.PARTS: "part list: size, neighbours, thinnest place, waste and slopes of every strip",
    Output.SOLID: "all strips in their places as one file of closed solids in mm, for preview",
    Output.VIEW: "the front in 3-D for a phone or a browser, in metres",
    Output.PICTURE: "the front as it will look under a raking light, for the client",
}
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
    """What a build has made and where, what the checks found, and the mark its folder held before, if that was another."""

    folder: Path
    mark: str
    files: tuple[Made, ...]
    findings: tuple[Finding, ...]
    former_mark: str | None


@dataclass(frozen=True)
class _StripMade:
    """What comes of one strip: files already written, lines for the tables, its part of the preview."""

    files: tuple[Made, ...]
    offsets: str
    parts: str
    preview: tuple[Grid, float] | None


Progress = Callable[[int, int], None]


def write(
    front: Front,
    folder: str | Path = "out",
    *,
    outputs: Iterable[Output] = tuple(Output),
    workers: int | None = 1,
    progress: Progress | None = None,
) -> Build:
    """Write what is asked for to `folder`/<the job file's name>/ and return what was made.

    The folder is whole or as it was before; files in it that are not ours stay. `workers` processes share the strips,
    None for as many as pay (a script that asks for several needs
    an `if __name__ == "__main__"`); the bytes do not depend on it. `progress(done, total)` is called after every strip.
    Raises FileError when the folder cannot be written or a foreign file is in the way.
    """
    wanted = frozenset(outputs)
    target = Path(folder) / front.job.name
    former = read_manifest(target)
    names = {*_names(front, wanted), *_job_files(front.job), MANIFEST}
    with new_folder(target, names) as fresh:
        made = [*_strips_and_whole(front, fresh, wanted, workers, progress), *_put_job(front.job, fresh)]
        made += _kept(front, target, fresh, former, names)
        made.sort(key=lambda file: file.name)
        findings = check_front(front)
        put(fresh, MANIFEST, _manifest(front, made, findings))
    former_mark = former["mark"] if former and former["mark"] != front.mark else None
    return Build(target, front.mark, tuple(made), tuple(findings), former_mark)


def summary(build: Build) -> list[tuple[str, int, int, str]]:
    """Return what was made, files of one folder together: name, count, size in bytes, purpose."""
    groups: dict[str, list[Made]] = {}
    for file in build.files:
        folder, slash, _ = file.name.partition("/")
        groups.setdefault(folder + slash, []).append(file)
    return [(name, len(files), sum(file.size for file in files), files[0].purpose) for name, files in groups.items()]


def strip_name(front: Front, number: int) -> str:
    """Return "strip-07": numbers padded so that names sort as the strips hang."""
    return f"strip-{number:0{max(2, len(str(front.count)))}d}"


def _names(front: Front, wanted: frozenset[Output]) -> Iterator[str]:
    for number in range(1, front.count + 1):
        if Output.SIDES in wanted:
            yield _side_name(front, number)
        if Output.STRIPS in wanted:
            yield _solid_name(front, number)
    yield from (_WHOLE[output] for output in _WHOLE if output in wanted)


def _side_name(front: Front, number: int) -> str:
    return f"sides/{strip_name(front, number)}.svg"


def _solid_name(front: Front, number: int) -> str:
    return f"strips/{strip_name(front, number)}_mm.stl"


_WHOLE = {
    Output.OFFSETS: "offsets.csv",
    Output.PARTS: "parts.csv",
    Output.SOLID: "front.stl",
    Output.VIEW: "front.glb",
    Output.PICTURE: "front.png",
}


def _strips_and_whole(
    front: Front, fresh: Path, wanted: frozenset[Output], workers: int | None, progress: Progress | None
) -> list[Made]:
    """Make the picture beside the strips, then what all strips together give."""
    with ThreadPoolExecutor(1) as aside:
        picture = aside.submit(_put_picture, front, fresh) if Output.PICTURE in wanted else None
        strips = _all_strips(front, fresh, wanted, workers, progress)
        made = [file for strip in strips for file in strip.files]
        made += _put_whole(front, fresh, wanted, strips)
        return [*made, *([picture.result()] if picture else [])]


def _all_strips(
    front: Front, fresh: Path, wanted: frozenset[Output], workers: int | None, progress: Progress | None
) -> list[_StripMade]:
    """Make every strip, in this process or in several; the results come in order either way."""
    count = _worthwhile(front) if workers is None else workers
    if count < 1:
        raise mistake("workers", f"`workers` must be at least 1 (got {count}): 1 is always enough")
    numbers = range(1, front.count + 1)
    if wanted <= {Output.PICTURE}:
        return []
    if count == 1:
        results: Iterator[_StripMade] = (_make_strip(front, number, fresh, wanted) for number in numbers)
        return list(_counted(results, front.count, progress))
    # "spawn" starts clean processes on every system; a forked one would inherit this one's threads.
    with ProcessPoolExecutor(count, get_context("spawn"), _start_worker, (front.job, fresh, wanted)) as pool:
        return list(_counted(pool.map(_make_in_worker, numbers, chunksize=4), front.count, progress))


def _worthwhile(front: Front) -> int:
    step = front.job.sampling.step
    heights = sum(strip.width * strip.length for strip in front.layout.strips) / (step * step)
    return max(1, os.cpu_count() or 1) if heights > WORTH_WORKERS else 1


def _counted(results: Iterable[_StripMade], total: int, progress: Progress | None) -> Iterator[_StripMade]:
    for done, result in enumerate(results, start=1):
        if progress:
            progress(done, total)
        yield result


_worker: tuple[Front, Path, frozenset[Output]] | None = None


def _start_worker(job: Job, fresh: Path, wanted: frozenset[Output]) -> None:
    global _worker
    _worker = (build_front(job), fresh, wanted)


def _make_in_worker(number: int) -> _StripMade:
    assert _worker is not None
    front, fresh, wanted = _worker
    return _make_strip(front, number, fresh, wanted)


def _make_strip(front: Front, number: int, fresh: Path, wanted: frozenset[Output]) -> _StripMade:
    """Make all that one strip gives; a pure function of job and number but for the files it writes."""
    from facade.exporters.tables import offsets_rows, parts_row

    strip = front.strip(number)
    files = []
    if Output.SIDES in wanted:
        files.append(_put_side(front, strip, fresh))
    if Output.STRIPS in wanted:
        files.append(_put_solid(front, strip, fresh))
    preview = None
    if wanted & {Output.SOLID, Output.VIEW}:
        preview = thinned_grid(strip, PREVIEW_TOLERANCE, max(32, PREVIEW_HEIGHTS // front.count))
    return _StripMade(
        tuple(files),
        offsets_rows(front, strip) if Output.OFFSETS in wanted else "",
        parts_row(front, strip) if Output.PARTS in wanted else "",
        preview,
    )


def _made(written: Written, purpose: str) -> Made:
    return Made(written.name, purpose, written.size, written.sha256)


def _put_side(front: Front, strip: Strip, fresh: Path) -> Made:
    from facade.exporters.svg import to_svg
    from facade.templates.sides import side_sheet

    return _made(put(fresh, _side_name(front, strip.number), to_svg(side_sheet(front, strip))), PURPOSES[Output.SIDES])


def _put_solid(front: Front, strip: Strip, fresh: Path) -> Made:
    from facade.exporters.stl import to_stl

    header = f"facade, unit mm, mark {front.mark}, strip {strip.number} of {front.count}, back at z = 0"
    data = to_stl([closed_solid(strip_grid(strip))], header)
    return _made(put(fresh, _solid_name(front, strip.number), data), PURPOSES[Output.STRIPS])


def _put_picture(front: Front, fresh: Path) -> Made:
    from facade.pictures import front_picture

    return _made(put(fresh, _WHOLE[Output.PICTURE], front_picture(front)), PURPOSES[Output.PICTURE])


def _put_whole(front: Front, fresh: Path, wanted: frozenset[Output], strips: list[_StripMade]) -> Iterator[Made]:
    """Write what all strips together give."""
    from facade.exporters.glb import to_glb
    from facade.exporters.stl import to_stl
    from facade.exporters.tables import offsets_head, parts_head

    previews = [strip.preview for strip in strips if strip.preview]
    grids = [grid for grid, _ in previews]
    reached = max((tolerance for _, tolerance in previews), default=0.0)
    if Output.OFFSETS in wanted:
        text = offsets_head(front) + "".join(strip.offsets for strip in strips)
        yield _made(put(fresh, _WHOLE[Output.OFFSETS], text), PURPOSES[Output.OFFSETS])
    if Output.PARTS in wanted:
        text = parts_head(front) + "".join(strip.parts for strip in strips)
        yield _made(put(fresh, _WHOLE[Output.PARTS], text), PURPOSES[Output.PARTS])
    close = f"; facets within {reached:g} mm of the surface"
    if Output.SOLID in wanted:
        header = f"facade, unit mm, mark {front.mark}, {front.count} strips"
        data = to_stl(map(closed_solid, grids), header)
        yield _made(put(fresh, _WHOLE[Output.SOLID], data), PURPOSES[Output.SOLID] + close)
    if Output.VIEW in wanted:
        yield _made(put(fresh, _WHOLE[Output.VIEW], to_glb(front, grids)), PURPOSES[Output.VIEW] + close)


def _job_files(job: Job) -> dict[str, bytes]:
    """Return the job file and what it reads, by their names in the build's folder."""
    files = {f"job/{job.name}.toml": job.text.encode("utf-8")} if job.text is not None else {}
    return {**files, **{f"job/{name}": data for layer in job.layers for name, data in layer.files().items()}}


def _put_job(job: Job, fresh: Path) -> list[Made]:
    return [_made(put(fresh, name, data), JOB_PURPOSE) for name, data in _job_files(job).items()]


def _kept(front: Front, target: Path, fresh: Path, former: dict[str, Any] | None, names: set[str]) -> list[Made]:
    """Keep what an earlier build of the very same job has made and this one was not asked for."""
    if former is None or former.get("settings") != _settings(front):
        return []
    old = [Made(**file) for file in former["files"] if file["name"] not in names and (target / file["name"]).is_file()]
    carry_over(target, fresh, (file.name for file in old))
    return old


def _settings(front: Front) -> str:
    """Return the fingerprint of everything that decides the bytes: job, version, how it is printed."""
    text = f"{version('facade')}\n{front.mark}\n{front.job.model_dump_json()}"
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def _manifest(front: Front, made: list[Made], findings: list[Finding]) -> str:
    job, layout = front.job, front.layout
    content = {
        "made_by": f"facade {version('facade')}",
        "mark": front.mark,
        "geometry": GEOMETRY,
        "settings": _settings(front),
        "title": job.title,
        "unit": job.unit.value,
        "lengths_here": "mm",
        "front": {"width": layout.width, "height": layout.height, "doors": len(layout.doors), "strips": front.count},
        "findings": [finding.as_data() for finding in findings],
        "files": [asdict(file) for file in made],
    }
    return json.dumps(content, indent=1, ensure_ascii=False) + "\n"
