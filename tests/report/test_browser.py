"""The page in a real browser with the network denied."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import pytest

from gearfit.report import write_report
from tests.report import example

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


def test_the_page_opens_and_asks_the_network_for_nothing(tmp_path: Path) -> None:
    page = write_report(example.nasty_names(), tmp_path / "report")["report.html"]
    log = tmp_path / "net.json"
    document = browse(tmp_path, page, f"--log-net-log={log}", "--dump-dom")
    assert '<h1>&lt;script&gt;alert(1)&lt;/script&gt; &amp; "Ωmega" $x_1^2$ 山</h1>' in document
    assert "<script" not in document
    assert document.count("<img ") == 5
    events = json.loads(log.read_text(encoding="utf-8"))
    # The browser's own start-up requests carry chrome: addresses; no page may ask for anything else.
    asked = {event["params"]["url"] for event in events["events"] if "url" in event.get("params", {})}
    foreign = {
        url for url in asked if not url.startswith(("data:", "file:", "chrome:", "chrome-", "devtools:", "about:"))
    }
    assert foreign == set()
