"""The server of the live page: what is asked of it, who may ask, and how much."""

from __future__ import annotations

import hmac
import json
import traceback
from collections.abc import Awaitable, Callable, Mapping
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import ClientDisconnect, Request
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
    """Refuses what does not come from the page itself: an address without the secret, another host's name, another page's request.

    The secret is the first part of every address, as in /SECRET/scene; what follows it is handed on.
    """

    def __init__(self, app: ASGIApp, port: int, secret: str) -> None:
        self._app = app
        self._secret = secret.encode("ascii")
        self._hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}
        self._origins = {f"http://{host}" for host in self._hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 1008})
        if scope["type"] != "http":
            return
        headers = {name.decode("latin-1").lower(): value.decode("latin-1") for name, value in scope["headers"]}
        said, slash, path = scope["path"].removeprefix("/").partition("/")
        refused = self._refused(scope["method"], said, path, headers)
        if refused is None and not slash:
            refused = Response(status_code=307, headers={"Location": f"/{said}/", **_HEADERS})
        asked = {**scope, "path": f"/{path}"}
        asked.pop("raw_path", None)
        await (refused or self._app)(asked, receive, send)

    def _refused(self, method: str, said: str, path: str, headers: Mapping[str, str]) -> Response | None:
        if headers.get("host", "") not in self._hosts:
            return _refusal(403, "this page answers to this machine alone")
        if not hmac.compare_digest(said.encode("utf-8", "surrogatepass"), self._secret):
            return _refusal(
                403, "this address lacks the page's secret: use the whole address that `facade open` has printed"
            )
        origin = headers.get("origin")
        if (origin is not None and origin not in self._origins) or not _from_here(method, path, headers):
            return _refusal(403, "only the page itself may ask")
        if method == "POST":
            if headers.get("content-type", "").partition(";")[0].strip() != "application/json":
                return _refusal(415, "what is sent must be JSON")
            size = headers.get("content-length", "")
            if not (size.isdecimal() and size.isascii() and len(size) < 20) or int(size) > LARGEST_BODY:
                return _refusal(413, f"what is sent must be at most {LARGEST_BODY // 1024} KB, its length given")
        return None


def _from_here(method: str, path: str, headers: Mapping[str, str]) -> bool:
    """Whether a browser says that the page itself asks, or its user: the page alone may be opened from a link that lies elsewhere.

    Programs, and browsers that are old, say nothing (Fetch Metadata Request Headers, W3C).
    """
    site = headers.get("sec-fetch-site", "none")
    opened = headers.get("sec-fetch-mode") == "navigate" and headers.get("sec-fetch-dest") == "document"
    return site in ("same-origin", "none") or (opened and method == "GET" and path == "")


def _refusal(code: int, sentence: str) -> Response:
    return JSONResponse({"error": sentence}, code, headers=_HEADERS)


def page_app(shop: Shop, port: int, secret: str) -> Starlette:
    """Return the server's application for one folder, at addresses that begin with the secret.

    What is wrong is answered in a sentence, 422.
    """
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
    refusals = {HTTPException: _no_such_place}
    app = Starlette(
        routes=routes, middleware=[Middleware(Guard, port=port, secret=secret)], exception_handlers=refusals
    )
    app.router.redirect_slashes = False
    return app


async def _no_such_place(request: Request, error: Exception) -> Response:
    code = error.status_code if isinstance(error, HTTPException) else 404
    return _refusal(code, "the page asks for nothing of this kind here")


def _answer(shop: Shop, work: Work) -> Callable[[Request], Awaitable[Response]]:
    async def answer(request: Request) -> Response:
        try:
            return _response(await run_in_threadpool(work, shop, await _asked(request)))
        except FacadeError as error:
            return _refusal(422, str(error))
        except ClientDisconnect:
            return Response(status_code=499)  # nobody is there to read it
        except UnicodeEncodeError:
            return _refusal(422, "what is sent holds half of a letter, which no file can keep: type it anew")
        except RecursionError:
            return _refusal(422, "what is sent is nested too deeply: leave some of it out")
        except MemoryError:
            return _refusal(
                422, "this front asks for more memory than there is: make it smaller, or `sampling.step` larger"
            )
        except OSError as error:
            return _refusal(422, f"the folder of the page cannot be used: {error.strerror or error}")
        except Exception as error:
            # What nobody has thought of: said to whoever keeps the program, and in a sentence to who sits at the page.
            traceback.print_exc()
            return _refusal(
                422, f"the program could not work this out ({type(error).__name__}): take back the last change"
            )

    return answer


async def _asked(request: Request) -> dict[str, Any]:
    """Return what is asked, as a table; raises FacadeError."""
    if request.method == "GET":
        return dict(request.query_params)
    try:
        asked = json.loads(await _body(request))
    except (ValueError, RecursionError) as error:
        raise FacadeError("what is sent must be JSON") from error
    if not isinstance(asked, dict):
        raise FacadeError("what is sent must be a table")
    return asked


def _response(found: Any) -> Response:
    if isinstance(found, Response):
        found.headers.update(_HEADERS)
        return found
    if isinstance(found, bytes):
        return Response(found, media_type="application/octet-stream", headers=_HEADERS)
    return JSONResponse(found, headers=_HEADERS)


async def _body(request: Request) -> bytes:
    """Return what is sent, but never more than is allowed, whatever its head says."""
    body = bytearray()
    async for part in request.stream():
        body += part
        if len(body) > LARGEST_BODY:
            raise FacadeError(f"what is sent must be at most {LARGEST_BODY // 1024} KB")
    return bytes(body)


@cache
def _own_files() -> Mapping[str, tuple[bytes, str]]:
    """Return the page's own files by name, each with its kind."""
    rooms = [files(room) / "static" for room in ("facade.viewing", "facade.web")]
    found = [place for room in rooms for place in room.iterdir()]
    return {
        place.name: (place.read_bytes(), _KINDS[ending])
        for place in found
        if (ending := Path(place.name).suffix) in _KINDS
    }


async def _file(request: Request) -> Response:
    name = request.path_params.get("name", "index.html")
    if name not in _own_files():
        return _refusal(404, "there is no such file")
    data, kind = _own_files()[name]
    return Response(data, media_type=kind, headers=_HEADERS)


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
