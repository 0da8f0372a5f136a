"""Starting the server of the page, and a browser on it."""

from __future__ import annotations

import socket
import threading
import webbrowser
from collections.abc import Callable
from pathlib import Path

from facade.errors import FacadeError

HOST = "127.0.0.1"


def serve(folder: Path, first: Path | None, port: int, *, browser: bool, said: Callable[[str], None]) -> None:
    """Serve the page until it is stopped; `port` 0 takes any that is free. Raises FacadeError where it is taken."""
    try:
        import uvicorn

        from facade.web.app import page_app
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
    taken = int(listener.getsockname()[1])
    app = page_app(folder, first, taken)
    # Listening before the browser comes: its first request waits instead of failing.
    listener.listen(64)
    said(f"The page is at http://{HOST}:{taken}/ for this machine alone. Stop it with Ctrl+C.")
    if browser:
        threading.Thread(target=webbrowser.open, args=(f"http://{HOST}:{taken}/",), daemon=True).start()
    config = uvicorn.Config(app, log_level="error", access_log=False, lifespan="off", timeout_graceful_shutdown=2)
    uvicorn.Server(config).run(sockets=[listener])
