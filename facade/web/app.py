"""The server of the live page: what is asked of it, who may ask, and how much."""

from __future__ import annotations

import json
from collections.abc import Awaitable, Callable
from importlib.resources import files
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

from facade.errors import FacadeError, shortened
from facade.viewing.scene import COARSE, FINE, packed
from facade.web.fields import controls
from facade.web.shop import Shop

LARGEST_BODY = 1024 * 1024
_KINDS = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".svg": "image/svg+xml",
}
# The page asks nobody but this server, and holds no script but its own.
_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
_HEADERS = {
    "Content-Security-Policy": _POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}
Work = Callable[[Shop, dict[str, Any]], Any]


class Guard:
    """Refuses what does not come from the page itself: another host's name, another page's request, a body too large."""

    def __init__(self, app: ASGIApp, port: int) -> None:
        self._app = app
        self._hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}
        self._origins = {f"http://{host}" for host in self._hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = {name.decode("latin-1").lower(): value.decode("latin-1") for name, value in scope["headers"]}
        refused = self._refused(scope["method"], headers)
        await (refused or self._app)(scope, receive, send)

    def _refused(self, method: str, headers: dict[str, str]) -> Response | None:
        if headers.get("host", "") not in self._hosts:
            return _refusal(403, "this page answers to this machine alone")
        origin = headers.get("origin")
        if origin is not None and origin not in self._origins:
            return _refusal(403, "only the page itself may ask")
        if method == "POST":
            if headers.get("content-type", "").partition(";")[0].strip() != "application/json":
                return _refusal(415, "what is sent must be JSON")
            size = headers.get("content-length", "")
            if not size.isdigit() or int(size) > LARGEST_BODY:
                return _refusal(413, f"what is sent must be at most {LARGEST_BODY // 1024} KB, its length given")
        return None


def _refusal(code: int, sentence: str) -> Response:
    return JSONResponse({"error": sentence}, code, headers=_HEADERS)


def page_app(folder: Path, first: Path | None, port: int) -> Starlette:
    """Return the server's application for one folder; raises nothing: what is wrong is answered in a sentence, 422."""
    shop = Shop(folder, first)
    posts: dict[str, Work] = {
        "scene": _scene,
        "findings": lambda shop, asked: shop.findings(_settings(asked)),
        "strip": lambda shop, asked: shop.strip(_settings(asked), _whole(asked, "number")),
        "open": lambda shop, asked: shop.opened(_text(asked, "name"), _text(asked, "preset")),
        "save": lambda shop, asked: shop.saved(
            str(asked.get("name")),
            str(asked.get("text")),
            _settings(asked),
            str(asked.get("hash")),
            over=asked.get("over") is True,
        ),
        "build": lambda shop, asked: {
            "build": shop.build(str(asked.get("name")), _settings(asked), str(asked.get("text")))
        },
        "report": _report,
    }
    gets: dict[str, Work] = {
        "alive": lambda shop, asked: {"alive": True},
        "start": lambda shop, asked: {**shop.start(), "controls": controls(), "listed": shop.listed()},
        "files": lambda shop, asked: shop.listed(),
        "progress": lambda shop, asked: shop.progress(str(asked.get("build"))),
        "pack": lambda shop, asked: Response(
            shop.pack(str(asked.get("build"))),
            media_type="application/zip",
            headers={"Content-Disposition": 'attachment; filename="pack.zip"'},
        ),
    }
    routes = [Route("/", _file, methods=["GET"]), Route("/static/{name}", _file, methods=["GET"])]
    routes += [Route(f"/{name}", _answer(shop, work), methods=["POST"]) for name, work in posts.items()]
    routes += [Route(f"/{name}", _answer(shop, work), methods=["GET"]) for name, work in gets.items()]
    return Starlette(routes=routes, middleware=[Middleware(Guard, port=port)])


def _answer(shop: Shop, work: Work) -> Callable[[Request], Awaitable[Response]]:
    async def answer(request: Request) -> Response:
        try:
            asked = dict(request.query_params)
            if request.method == "POST":
                asked = json.loads(await _body(request))
            if not isinstance(asked, dict):
                raise FacadeError("what is sent must be a table")
            found = await run_in_threadpool(work, shop, asked)
        except FacadeError as error:
            return _refusal(422, str(error))
        except UnicodeEncodeError:
            return _refusal(422, "what is sent holds half of a letter, which no file can keep: type it anew")
        except (ValueError, RecursionError):
            return _refusal(422, "what is sent must be JSON")
        if isinstance(found, Response):
            found.headers.update(_HEADERS)
            return found
        if isinstance(found, bytes):
            return Response(found, media_type="application/octet-stream", headers=_HEADERS)
        return JSONResponse(found, headers=_HEADERS)

    return answer


async def _body(request: Request) -> bytes:
    """Return what is sent, but never more than is allowed, whatever its head says."""
    body = bytearray()
    async for part in request.stream():
        body += part
        if len(body) > LARGEST_BODY:
            raise FacadeError(f"what is sent must be at most {LARGEST_BODY // 1024} KB")
    return bytes(body)


async def _file(request: Request) -> Response:
    name = request.path_params.get("name", "index.html")
    kind = _KINDS.get(Path(name).suffix)
    places = [files(room) / "static" / name for room in ("facade.web", "facade.viewing")]
    found = next((place for place in places if place.is_file()), None)
    if kind is None or found is None or "/" in name or "\\" in name:
        return _refusal(404, "there is no such file")
    return Response(found.read_bytes(), media_type=kind, headers=_HEADERS)


def _settings(asked: dict[str, Any]) -> dict[str, Any]:
    settings = asked.get("settings")
    if not isinstance(settings, dict):
        raise FacadeError("`settings` must be the table of a job")
    return settings


def _whole(asked: dict[str, Any], name: str) -> int:
    value = asked.get(name)
    if not isinstance(value, int) or isinstance(value, bool):
        raise FacadeError(f"`{name}` must be a whole number (got {shortened(repr(value))})")
    return value


def _text(asked: dict[str, Any], name: str) -> str | None:
    value = asked.get(name)
    return str(value) if value is not None else None


def _scene(shop: Shop, asked: dict[str, Any]) -> bytes:
    return packed(shop.front(_settings(asked)), FINE if asked.get("fine") is True else COARSE)


def _report(shop: Shop, asked: dict[str, Any]) -> Response:
    from facade.viewing.report import report

    page = report(shop.front(_settings(asked)))
    return Response(page, media_type="text/html", headers={"Content-Disposition": 'attachment; filename="front.html"'})
