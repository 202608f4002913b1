"""The pages as a browser and as a stranger meet them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from threading import Thread
from typing import Any

from flask.testing import FlaskClient

from gearfit.commands.new_folder import make_folder
from gearfit.local_page.app import make_app
from gearfit.local_page.garage import Garage
from gearfit.local_page.serve import make_server

ADDRESS = "127.0.0.1:4321"
ORIGIN = f"http://{ADDRESS}"

BIKE = """# By hand.
name = "Tarn 350"   # invented

[gearbox]
primary = "74/25"
gears = ["35/13", "31/17", "28/20", "26/22", "24/24", "23/26"]

[final_drive]
rear = 43   # counted
front = 14

[setups.before]
[setups.after]
front = 13
"""


def bike_in(root: Path, name: str = "tarn", text: str = BIKE) -> Path:
    """Make an invented bike's folder."""
    folder = root / name
    make_folder(folder)
    (folder / "bike.toml").write_text(text, "utf-8")
    return folder


class Window:
    """A browser window that came in with the key."""

    def __init__(self, root: Path) -> None:
        self.app, self.guard = make_app(Garage(root), ADDRESS, "kmh", lambda: None)
        self.client: FlaskClient = self.app.test_client()
        self.get(f"/enter/{self.guard.key}")

    def get(self, path: str, **headers: str) -> Any:
        return self.client.get(path, headers={"Host": ADDRESS, **headers})

    def post(self, path: str, **more: Any) -> Any:
        headers = {"Host": ADDRESS, "Origin": ORIGIN, "Accept": "application/json"} | more.pop("headers", {})
        return self.client.post(path, headers=headers, **more)


@contextmanager
def serving(root: Path) -> Iterator[str]:
    """Serve a folder for real; gives the address that lets a browser in."""
    server, app, entrance = make_server(root, lambda: None)

    def run() -> None:
        with suppress(OSError):  # closed below while it waits
            server.run()

    thread = Thread(target=run, daemon=True)
    thread.start()
    yield entrance
    app.extensions["gearfit"]["reporter"].close()
    server.close()
