"""Starting the server of the page, and a browser on it."""

from __future__ import annotations

import html
import os
import secrets
import socket
import stat
import threading
import webbrowser
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from facade.errors import FacadeError
from facade.files import put_secret

HOST = "127.0.0.1"
_LETTERS = 32  # letters of the secret, of 6 bits each


def serve(folder: Path, first: Path | None, port: int, *, browser: bool, said: Callable[[str], None]) -> None:
    """Serve the page until it is stopped; `port` 0 takes any that is free. Raises FacadeError where it is taken."""
    try:
        import uvicorn

        from facade.web.app import page_app
        from facade.web.shop import Shop
    except ImportError as error:
        raise FacadeError('the page needs the extra "web": install facade[web]') from error
    # Named as TCP, so that its connections send at once: else an answer's body waits 40 ms for the head to be acknowledged.
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((HOST, port))
    except OSError as error:
        listener.close()
        raise FacadeError(f"`--port` {port} is taken: name another, or leave it out") from error
    taken, secret, shop = int(listener.getsockname()[1]), kept_secret(), Shop(folder, first)
    app = page_app(shop, taken, secret)
    # Listening before the browser comes: its first request waits instead of failing.
    listener.listen(64)
    address = f"http://{HOST}:{taken}/{secret}/"
    said(
        f"The page is at {address} for you alone: who knows this address can read and save your jobs. Stop it with Ctrl+C."
    )
    config = uvicorn.Config(app, log_level="error", access_log=False, lifespan="off", timeout_graceful_shutdown=2)
    with _opened(folder, address if browser else ""):
        try:
            uvicorn.Server(config).run(sockets=[listener])
        finally:
            shop.stop()


def kept_secret() -> str:
    """Return the secret in the page's address: random, this user's own, kept so that a page which stands open goes on after a new start."""
    from platformdirs import user_config_path

    path = Path(user_config_path("facade", appauthor=False)) / "page-secret"
    for _ in range(2):
        with suppress(OSError, ValueError):
            kept = path.read_text("ascii")
            if len(kept) == _LETTERS and kept.replace("-", "").replace("_", "").isalnum() and _private(path):
                return kept
            path.unlink()
        with suppress(OSError):
            put_secret(path, secrets.token_urlsafe(_LETTERS * 6 // 8).encode("ascii"))
    return secrets.token_urlsafe(_LETTERS * 6 // 8)


def _private(path: Path) -> bool:
    """Whether nobody else may read a file: on Windows the user's own folders see to that."""
    found = path.lstat()
    return os.name == "nt" or (
        stat.S_ISREG(found.st_mode) and found.st_uid == os.getuid() and not found.st_mode & 0o077
    )


@contextmanager
def _opened(folder: Path, address: str) -> Iterator[None]:
    """Open a browser at an address, by a file that only this user can read: what a browser is called with, everyone on the machine sees."""
    if not address:
        yield
        return
    path = folder / f"facade-page-{secrets.token_hex(4)}.html"
    quoted = html.escape(address)
    page = (
        '<!doctype html><meta charset="utf-8"><meta name="referrer" content="no-referrer"><title>Front</title>'
        f'<meta http-equiv="refresh" content="0; url={quoted}"><p><a href="{quoted}">To the page</a>'
    )
    try:
        put_secret(path, page.encode("utf-8"))
    except OSError:
        # Nowhere to leave it: the address stands on the screen.
        yield
        return
    threading.Thread(target=webbrowser.open, args=(path.as_uri(),), daemon=True).start()
    away = threading.Timer(_BROWSER_TAKES, path.unlink, kwargs={"missing_ok": True})
    away.daemon = True
    away.start()
    try:
        yield
    finally:
        away.cancel()
        path.unlink(missing_ok=True)


_BROWSER_TAKES = 60.0  # seconds until a browser that had to be started has read the file
