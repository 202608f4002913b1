"""A browser without network, driven by the driver that came with it."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

OPTIONS = (
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-dev-shm-usage"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync", "--no-default-browser-check"),
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
)


#: Addresses that no network is asked for: the page's own, and those of the browser's own pages.
OWN = ("data:", "file:", "chrome:", "chrome-untrusted:")


def start(profile: Path) -> Any:
    """Start Chromium with a fresh profile, or skip and say what is missing."""
    webdriver = pytest.importorskip("selenium.webdriver", reason="selenium is not installed")
    browser, driver = shutil.which("chromium"), shutil.which("chromedriver")
    if browser is None or driver is None:
        pytest.skip("no chromium and chromedriver found to open the page in")
    options = webdriver.ChromeOptions()
    options.binary_location = browser
    for option in (*OPTIONS, f"--user-data-dir={profile}"):
        options.add_argument(option)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    return webdriver.Chrome(options=options, service=webdriver.ChromeService(executable_path=driver))


def asked(browser: Any) -> set[str]:
    """Addresses that were asked for since the last call, the page's own file and data within it aside."""
    events = [json.loads(entry["message"])["message"] for entry in browser.get_log("performance")]
    sent = [event["params"] for event in events if event["method"] == "Network.requestWillBeSent"]
    return {found["request"]["url"] for found in sent if not found["request"]["url"].startswith(OWN)}


def complaints(browser: Any) -> list[str]:
    """What the browser's console holds."""
    return [entry["message"] for entry in browser.get_log("browser")]
