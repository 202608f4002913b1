"""Serves the pages on the loopback address until the last one is closed, or Ctrl-C."""

from __future__ import annotations

import signal
import webbrowser
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from flask import Flask
from waitress.server import create_server

from gearfit.foreign import safe_text
from gearfit.local_page.app import make_app
from gearfit.local_page.files_of_ride import LARGEST_BYTES
from gearfit.local_page.garage import Garage
from gearfit.local_page.remembered import remembered_unit

HOST: Final = "127.0.0.1"
#: A sender that is silent for so long is cut off, s; each one costs no more than its connection until all has come.
_SILENT_S: Final = 60
_MOST_CONNECTIONS: Final = 100


def make_server(root: Path, end: Callable[[], None]) -> tuple[Any, Flask, str]:
    """Return the server, the pages that it serves, and the address that opens them.

    Parameters
    ----------
    root : pathlib.Path
        A ride folder, or a folder of them.
    end : callable
        Called when the last page has gone.
    """
    server: Any = create_server(
        _nothing_yet,
        host=HOST,
        port=0,
        threads=6,
        ident=None,
        max_request_body_size=LARGEST_BYTES + 1,
        channel_timeout=_SILENT_S,
        connection_limit=_MOST_CONNECTIONS,
        clear_untrusted_proxy_headers=True,
    )
    app, guard = make_app(Garage(root), f"{HOST}:{server.effective_port}", remembered_unit(), end)
    server.application = app
    return server, app, guard.entrance


def serve(root: Path, *, window: bool) -> None:
    """Open the pages on a folder and serve them; returns when they are over.

    Parameters
    ----------
    root : pathlib.Path
        A ride folder, or a folder of them.
    window : bool
        Whether a browser is opened; the address is printed either way.
    """
    server, app, entrance = make_server(root, lambda: signal.raise_signal(signal.SIGINT))
    opened = app.extensions["gearfit"]
    print(entrance, flush=True)
    if window:
        print(safe_text(f"Working on {root.resolve()}. Close the last page, or press Ctrl-C, to end."), flush=True)
        webbrowser.open(entrance)
        opened["open"].watch()
    try:
        server.run()
    finally:
        opened["open"].close()
        opened["reporter"].close()
        server.close()


def _nothing_yet(environ: object, start_response: object) -> list[bytes]:
    return []
