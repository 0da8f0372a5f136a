"""All files of the face route: machine code, solids and height pictures, plans, the sheet for the machine, and what is to be known."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cached_property, partial
from itertools import islice
from typing import Any

import numpy as np

from facade.checks.finding import Finding
from facade.cnc import job_sheet, machining, notes, plan, surfaces
from facade.cnc.finishing import finishing_ground
from facade.cnc.fixture import Fixture, fixtures
from facade.cnc.ground import Ground
from facade.cnc.machining import Stage, Written
from facade.cnc.making import File, Kept, Making, Task, all_made, as_it_is
from facade.cnc.order import Order
from facade.cnc.screwing import Holding, holdings
from facade.cnc.standing import Standing, remember, standing_findings, standing_on
from facade.front import Front


def face_names(front: Front, order: Order) -> list[str]:
    """Return the names of all files that `face_files` gives; raises JobError as it does."""
    return [
        *machining.code_names(front, order),
        *surfaces.surface_names(front, order),
        *plan.plan_names(front, order),
        job_sheet.JOB_SHEET,
        notes.READ_ME,
    ]


class FaceMaking(Making[Kept]):
    """All files of the face route while they are made: first the machine code, then the solids.

    Plans come after the machine code: which screws may be in while it runs is measured from its moves.
    """

    @cached_property
    def fixtures(self) -> list[Fixture]:
        """What is carved together; raises JobError as `fixtures` does."""
        return fixtures(self.front, self.order)

    @property
    def tasks(self) -> list[Task]:
        """Tasks that take long come first."""
        return [
            *(partial(self._finished, fixture) for fixture in self.fixtures),
            *(partial(self._written, fixture, Stage.ROUGH) for fixture in self.fixtures),
            *(partial(self._solids, fixture) for fixture in self.fixtures),
        ]

    def _finished(self, fixture: Fixture) -> tuple[Standing, Written, list[Kept]]:
        """Return what the ball leaves standing on a fixture, and its file."""
        ground = finishing_ground(fixture)
        return standing_on(fixture, ground), *self._written(fixture, Stage.FINISH, ground)

    def _written(self, fixture: Fixture, stage: Stage, ground: Ground | None = None) -> tuple[Written, list[Kept]]:
        one = machining.written(fixture, stage, cleared=self.order.cleared, ground=ground)
        return replace(one, text=""), self.kept([machining.code_file(one)])

    def _solids(self, fixture: Fixture) -> list[Kept]:
        return self.kept(surfaces.fixture_files(fixture))

    def findings(self, results: Iterator[Any]) -> list[Finding]:
        """Return the finding of a ball that leaves too much standing."""
        self._finishing = list(islice(results, len(self.fixtures)))
        remember(self.front, self.order, max((one[0] for one in self._finishing), key=lambda one: one.left))
        return standing_findings(self.front, self.order)

    def files(self, results: Iterator[Any]) -> Iterator[Kept]:
        """Yield what comes of every file: while copies make solids, plans and sheets are drawn here."""
        found, made = self.fixtures, []
        for one, kept in [*(some[1:] for some in self._finishing), *islice(results, len(found))]:
            made.append(one)
            yield from kept
        yield from self.kept(self._told(made))
        for kept in results:
            yield from kept

    def _told(self, made: Sequence[Written]) -> Iterator[File]:
        """Yield the files that say what is done with the others."""
        front, order, found = self.front, self.order, self.fixtures
        held = held_by(found, made)
        yield machining.times_file(front, made)
        for fixture, holding in zip(found, held, strict=True):
            yield from plan.plan_files(fixture, holding, cleared=order.cleared)
        yield job_sheet.face_sheet_file(front, order, found, held, made)
        yield notes.note_file(front, order, found, held)


def face_files(front: Front, order: Order) -> Iterator[File]:
    """Yield all files of the face route, each with its name and what it is for.

    Raises JobError when strips, cutters and machine do not go together.
    """
    return all_made(FaceMaking(front, order, as_it_is))


def held_by(found: Sequence[Fixture], made: Sequence[Written]) -> list[Holding]:
    """Return how fixtures are held while their files run."""
    near = [np.minimum.reduce([one.near for one in made if one.fixture == fixture.number]) for fixture in found]
    return holdings(found, near)
