"""All files of a route, and what is said about them."""

from __future__ import annotations

from collections.abc import Callable

from facade.checks.finding import Finding
from facade.cnc.making import File, Kept, Making
from facade.cnc.order import Order, Route
from facade.front import Front


def making(front: Front, order: Order, keep: Callable[[File], Kept]) -> Making[Kept]:
    """Return what makes all files of a route, each with its name in the job's folder; `keep` says what is done with each."""

    def kept(file: File) -> Kept:
        name, data, purpose = file
        return keep((f"{order.folder}/{name}", data, purpose))

    if order.route is Route.SIDE:
        from facade.cnc.side_files import SideMaking

        return SideMaking(front, order, kept)
    from facade.cnc.face import FaceMaking

    return FaceMaking(front, order, kept)


def names(front: Front, order: Order) -> list[str]:
    """Return the names of all files of a route, without drawing any."""
    if order.route is Route.SIDE:
        from facade.cnc.side_files import side_names as named
    else:
        from facade.cnc.face import face_names as named
    return [f"{order.folder}/{name}" for name in named(front, order)]


def findings(front: Front, order: Order) -> list[Finding]:
    """Return what a route itself finds wrong with the front, before its files are made; raises JobError as its making does."""
    if order.route is Route.SIDE:
        return []
    from facade.cnc.standing import standing_findings

    return standing_findings(front, order)


def is_of_route(name: str, order: Order) -> bool:
    """Whether a file of a build belongs to the route of an order."""
    return name.startswith(f"{order.folder}/")
