"""All files of a route, and what is said about them."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from facade.checks.finding import Finding
from facade.cnc.order import Order, Route
from facade.front import Front


def files(front: Front, order: Order) -> Iterator[tuple[str, bytes, str]]:
    """Yield the name in the job's folder, the bytes and the purpose of every file of a route.

    Raises JobError when the strips, the cutters and the machine do not go together.
    """
    for _, made in _sources(order.route):
        for name, data, purpose in made(front, order):
            yield f"{order.folder}/{name}", data, purpose


def names(front: Front, order: Order) -> list[str]:
    """Return the names of all files of a route, without drawing any."""
    return [f"{order.folder}/{name}" for named, _ in _sources(order.route) for name in named(front, order)]


def findings(front: Front, order: Order) -> list[Finding]:
    """Return what a route itself finds wrong with the front, before its files are made; raises JobError as `files` does."""
    if order.route is Route.SIDE:
        return []
    from facade.cnc.standing import standing_findings

    return standing_findings(front, order)


def is_of_route(name: str, order: Order) -> bool:
    """Whether a file of a build belongs to the route of an order."""
    return name.startswith(f"{order.folder}/")


_Names = Callable[[Front, Order], list[str]]
_Files = Callable[[Front, Order], Iterator[tuple[str, bytes, str]]]


def _sources(route: Route) -> list[tuple[_Names, _Files]]:
    """Return what makes the files of a route: their names, and the files."""
    if route is Route.SIDE:
        from facade.cnc import side_files

        return [(side_files.side_names, side_files.side_files)]
    from facade.cnc import face

    return [(face.face_names, face.face_files)]
