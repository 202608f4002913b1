"""The page in a real browser with the network denied."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import pytest

from tests.report import example
from tests.report.conftest import Reports

OPTIONS = (
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync", "--no-default-browser-check"),
    "--host-resolver-rules=MAP * ~NOTFOUND",
)


def browse(tmp_path: Path, page: Path, *options: str) -> str:
    """Open `page` in a fresh profile; return what the browser prints."""
    browser = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if browser is None:
        pytest.skip("no Chromium found to open the page in")
    command = [browser, *OPTIONS, f"--user-data-dir={tmp_path / 'profile'}", *options, page.as_uri()]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=True)
    return done.stdout


def asked_by_the_page(log: Path) -> set[str]:
    """Addresses that a page asked for; requests that the browser makes on its own have no origin."""
    events = json.loads(log.read_text(encoding="utf-8"))["events"]
    started = [event["params"] for event in events if "initiator" in event.get("params", {})]
    return {params["url"] for params in started if params["initiator"] != "not an origin"}


def test_the_page_opens_and_asks_the_network_for_nothing(tmp_path: Path, reports: Reports) -> None:
    page = reports(example.nasty_names)["report.html"]
    log = tmp_path / "net.json"
    document = browse(tmp_path, page, f"--log-net-log={log}", "--dump-dom")
    assert '<h1>&lt;script&gt;alert(1)&lt;/script&gt; &amp; "Ωmega" $x_1^2$ 山</h1>' in document
    assert "<script" not in document
    assert document.count("<img ") == 5
    assert asked_by_the_page(log) == set()


def test_a_page_that_does_ask_would_be_noticed(tmp_path: Path) -> None:
    page = tmp_path / "asking.html"
    page.write_text('<img src="http://picture.invalid/x.png">', encoding="utf-8")
    log = tmp_path / "net.json"
    browse(tmp_path, page, f"--log-net-log={log}", "--dump-dom")
    assert asked_by_the_page(log) == {"http://picture.invalid/x.png"}
