"""`gearfit watch` as a process, and its page open in a browser without network."""

from __future__ import annotations

import signal
from pathlib import Path

from gearfit.whole_files import write_whole
from tests.faults.programs import start
from tests.report import browser as browsers
from tests.watch.test_watch import wait_until

COMMAND = "import sys; from gearfit.commands.cli import main; sys.exit(main(sys.argv[1:]))"


def test_the_open_page_follows_the_folder(tmp_path: Path) -> None:
    ride = tmp_path / "ride"
    write_whole(ride / "before" / "timed.csv", "from_kmh,to_kmh,time_s\n0,100,6.2\n")
    page = ride / "report" / "watch.html"
    browser = browsers.start(tmp_path / "profile")
    process = start(COMMAND, "watch", str(ride))
    try:
        wait_until(page.is_file)
        browser.get(page.as_uri())
        (ride / "bike.toml").write_text('name = "Corrie <400>"\n')
        wait_until(lambda: "<h1>Corrie &lt;400&gt;" in browser.page_source)
        (ride / "bike.toml").write_text("nmae = 1\n")
        wait_until(lambda: 'role="alert"' in browser.page_source and "nmae" in browser.page_source)
        assert "<h1>Corrie &lt;400&gt;" in browser.page_source, "the older report stays"
        assert not [address for address in browsers.asked(browser) if address.startswith("http")]
    finally:
        browser.quit()
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=30)
    assert (process.returncode, err) == (0, "")
    assert out.splitlines()[-1] == "The watch has ended."
    assert not page.exists()
    assert (ride / "report" / "report.html").is_file()
