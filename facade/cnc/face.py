"""All files of the face route: machine code, solids and height pictures, plans, the sheet for the machine, and what is to be known."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

import numpy as np

from facade.cnc import job_sheet, machining, notes, plan, surfaces
from facade.cnc.fixture import Fixture, fixtures
from facade.cnc.machining import Stage, Written
from facade.cnc.order import Order
from facade.cnc.screwing import Holding, holdings
from facade.front import Front
from facade.processes import shared_out

File = tuple[str, bytes, str]
"""A file's name in the folder of its order, what is in it, and what it is for."""


def face_names(front: Front, order: Order) -> list[str]:
    """Return the names of all files that `face_files` gives; raises JobError as it does."""
    return [
        *machining.code_names(front, order),
        *surfaces.surface_names(front, order),
        *plan.plan_names(front, order),
        job_sheet.JOB_SHEET,
        notes.READ_ME,
    ]


def face_files(front: Front, order: Order) -> Iterator[File]:
    """Yield all files of the face route, each with its name and what it is for.

    Plans come after the machine code: which screws may be in while it runs is measured from its moves. Raises JobError when strips,
    cutters and machine do not go together.
    """
    found = fixtures(front, order)
    tasks: list[Callable[[], Written | list[File]]] = [
        partial(machining.written, fixture, stage, cleared=order.cleared)
        for fixture in found
        for stage in (Stage.FINISH, Stage.ROUGH)
    ]
    tasks += [partial(surfaces.fixture_files, fixture) for fixture in found]
    made: list[Written] = []
    for result in shared_out(_done, tasks):
        if isinstance(result, Written):
            made.append(result)
            yield machining.code_file(result)
        else:
            yield from result
    yield machining.times_file(front, made)
    held = held_by(found, made)
    for files in shared_out(partial(_plans, cleared=order.cleared), list(zip(found, held, strict=True))):
        yield from files
    yield job_sheet.face_sheet_file(front, order, found, held, made)
    yield notes.note_file(front, order, found, held)


def _done(task: Callable[[], Written | list[File]]) -> Written | list[File]:
    return task()


def _plans(what: tuple[Fixture, Holding], *, cleared: bool) -> list[File]:
    return plan.plan_files(*what, cleared=cleared)


def held_by(found: list[Fixture], made: list[Written]) -> list[Holding]:
    """Return how fixtures are held while their files run."""
    near = [np.minimum.reduce([one.near for one in made if one.fixture == fixture.number]) for fixture in found]
    return holdings(found, near)
