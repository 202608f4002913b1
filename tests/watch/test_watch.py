"""A watch in a thread over a real folder: copies under way, a file that fails, the page that loads itself anew."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from threading import Thread

import pytest

from gearfit.commands.watch.midway import stops_midway
from gearfit.commands.watch.page import page_text, state_text
from gearfit.commands.watch.quiet import look
from gearfit.commands.watch.run import Watch
from gearfit.errors import FolderError
from gearfit.importers import read_folder
from tests.faults.test_whole_files import ride_in

PATIENCE_S = 30.0


def wait_until(what: Callable[[], bool]) -> None:
    end = time.monotonic() + PATIENCE_S
    while not what():
        assert time.monotonic() < end, "it did not happen in time"
        time.sleep(0.02)


class Watched:
    """A folder under watch, whose report is the list of its readable rows."""

    def __init__(self, root: Path) -> None:
        self.root, self.out = root, root / "report"
        self.reports: list[int] = []
        self.told: list[str] = []
        self.watch = Watch(root, self.out, self.report, self.told.append, settle_s=0.25)
        self.thread = Thread(target=self.watch.run)

    def report(self) -> None:
        setups = read_folder(self.root).setups
        rows = sum(len(recording.samples) for ride in setups for recording in ride.recordings)
        self.out.mkdir(exist_ok=True)
        (self.out / "report.html").write_text(f"<html><body>{rows} rows</body></html>")
        self.reports.append(rows)


@pytest.fixture
def watched(tmp_path: Path) -> Iterator[Watched]:
    found = Watched(ride_in(tmp_path / "ride"))
    found.thread.start()
    wait_until(lambda: found.reports == [18])
    yield found
    found.watch.stop()
    found.thread.join(PATIENCE_S)
    assert not found.thread.is_alive()
    assert not (found.out / "watch.html").exists()
    assert (found.out / "report.html").exists()


def test_a_new_file_is_reported_once(watched: Watched) -> None:
    (watched.root / "after" / "more.csv").write_text("gear,rpm,speed_kmh\n4,5000,74\n")
    wait_until(lambda: len(watched.told) == 2)
    time.sleep(0.6)
    assert watched.reports == [18, 19]
    assert watched.told == ["Report 1 is written", "Report 2 is written"]


def test_a_file_that_is_still_growing_is_waited_for(watched: Watched) -> None:
    with (watched.root / "before" / "slow.csv").open("w") as file:
        file.write("gear,rpm,speed_kmh\n")
        for number in range(12):
            file.write(f"2,{4000 + 100 * number},{32 + number}\n")
            file.flush()
            time.sleep(0.1)
    wait_until(lambda: watched.reports[-1] == 30)
    assert watched.reports == [18, 30]


def test_a_failing_file_ends_nothing_and_its_message_stands_in_the_page(watched: Watched) -> None:
    bad = watched.root / "bike.toml"
    bad.write_text("[final_drive]\nfrnt = 14\n")
    wait_until(lambda: len(watched.told) == 2)
    assert "final_drive.frnt" in watched.told[1]
    state = (watched.out / "watch_state.js").read_text("utf-8")
    assert json.dumps(watched.told[1]).replace("<", "\\u003c") in state
    assert "18 rows" in (watched.out / "watch.html").read_text("utf-8"), "the older report stays"
    bad.unlink()
    wait_until(lambda: watched.reports == [18, 18])
    # the state is written right after the report
    wait_until(lambda: "messages = []" in (watched.out / "watch_state.js").read_text("utf-8"))


def test_a_fault_of_our_own_ends_nothing(tmp_path: Path) -> None:
    def broken() -> None:
        raise ZeroDivisionError("somewhere inside")

    told: list[str] = []
    root = ride_in(tmp_path / "ride")
    watch = Watch(root, root / "report", broken, told.append, settle_s=0.25)
    thread = Thread(target=watch.run)
    thread.start()
    wait_until(lambda: len(told) == 1)
    (root / "after" / "more.csv").write_text("gear,rpm,speed_kmh\n4,5000,74\n")
    wait_until(lambda: len(told) == 2)
    watch.stop()
    thread.join(PATIENCE_S)
    assert told == ["a fault of gearfit, ZeroDivisionError: somewhere inside"] * 2


@pytest.mark.skipif(os.name == "nt", reason="the system has no such signal")
def test_being_ended_from_outside_leaves_nothing_behind(tmp_path: Path) -> None:
    root = ride_in(tmp_path / "ride")
    command = [sys.executable, "-m", "gearfit", "watch", str(root)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as watch:
        assert watch.stdout is not None
        assert [watch.stdout.readline() for _ in range(2)][1] == "Report 1 is written\n"
        watch.terminate()
        assert watch.wait(PATIENCE_S) == 0
    left = sorted(path.name for path in (root / "report").iterdir())
    assert "watch.html" not in left
    assert not [name for name in left if name.startswith(".unfinished")]


HALF_LOG = "time_s,speed_kmh,rpm\n" + "".join(f"{n},{30 + n},{4000 + n}\n" for n in range(40)) + "40,70"


def test_a_copy_that_stalls_midway_is_not_reported_half(watched: Watched) -> None:
    slow = watched.root / "after" / "slow.csv"
    slow.write_text(HALF_LOG)
    wait_until(lambda: len(watched.told) == 2)
    assert watched.told[1] == "after/slow.csv: still growing or cut; the report waits for it"
    assert "still growing or cut" in (watched.out / "watch_state.js").read_text("utf-8")
    assert watched.reports == [18]
    slow.write_text(f"{HALF_LOG},4040\n41,71,4041\n")
    wait_until(lambda: len(watched.told) == 3)
    assert (watched.reports, watched.told[2]) == ([18, 60], "Report 2 is written")


def test_a_file_that_stays_cut_is_reported_and_named(watched: Watched) -> None:
    (watched.root / "after" / "cut.csv").write_text(HALF_LOG)
    wait_until(lambda: len(watched.told) == 3)
    assert watched.told[2] == "after/cut.csv: still growing or cut; reported is what can be read of it"
    assert watched.reports == [18, 59]


def test_an_old_file_that_is_cut_is_not_waited_for(tmp_path: Path) -> None:
    cut = ride_in(tmp_path / "ride") / "after" / "cut.csv"
    cut.write_text(HALF_LOG)
    os.utime(cut, (1e9, 1e9))
    found = Watched(tmp_path / "ride")
    found.thread.start()
    wait_until(lambda: len(found.told) == 1)
    found.watch.stop()
    found.thread.join(PATIENCE_S)
    assert found.told == ["after/cut.csv: still growing or cut; reported is what can be read of it"]


TRACK = '<?xml version="1.0"?>\n<gpx><trk><trkseg><trkpt lat="1" lon="2"></trkpt></trkseg></trk></gpx>\n'
SENTENCE = "$GPRMC,120000,A,5000.0,N,01000.0,E,30.0,0.0,010124,,*1A\r\n"
ROWS = "".join(f"{n},{30 + n}.25,{4000 + n}\n" for n in range(30))
WAVE = b"RIFF" + (100).to_bytes(4, "little") + b"WAVE" + bytes(96)


@pytest.mark.parametrize(
    ("content", "cut"),
    [
        (TRACK.encode(), False),
        (TRACK.encode("utf-16"), False),
        (TRACK[:-8].encode(), True),
        (TRACK[:-8].encode("utf-16"), True),
        (SENTENCE.encode() * 3, False),
        (SENTENCE.encode() * 3 + SENTENCE.strip().encode(), False),
        (SENTENCE.encode() * 3 + SENTENCE[:30].encode(), True),
        (WAVE, False),
        (WAVE[:-1], True),
        (WAVE[:6], True),
        (b"RIFF\xff\xff\xff\xffWAVE" + bytes(9), False),
        (ROWS.encode(), False),
        (ROWS.strip().encode(), False),
        (ROWS[:-3].encode(), True),
        (ROWS[:-7].encode(), True),
        (b"gear,rpm,speed_kmh\n1,4000,25\n2,4000,9", False),
        (b"", False),
        (b"one line", False),
    ],
)
def test_what_stops_midway(content: bytes, cut: bool, tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(content)
    assert stops_midway(tmp_path / "a") is cut


def test_a_page_that_is_no_text_ends_nothing(watched: Watched) -> None:
    def report() -> None:
        (watched.out / "report.html").write_bytes(b"\xff\xfe\xff")

    watched.watch._report = report
    (watched.root / "after" / "more.csv").write_text("gear,rpm,speed_kmh\n4,5000,74\n")
    wait_until(lambda: len(watched.told) == 2)
    assert "the page cannot be written" in watched.told[1]
    assert watched.thread.is_alive()


def test_the_report_itself_and_hidden_files_wake_nobody(watched: Watched) -> None:
    (watched.out / "mine.txt").write_text("x")
    (watched.root / ".hidden").write_text("x")
    time.sleep(0.8)
    assert watched.reports == [18]
    assert set(look(watched.root)) == {"before/holds.csv", "after/holds.csv"}


def test_before_the_first_ride_there_is_a_page_that_waits(tmp_path: Path) -> None:
    found = Watched(tmp_path)
    found.thread.start()
    wait_until(lambda: len(found.told) == 1)
    assert "No report yet" in (found.out / "watch.html").read_text("utf-8")
    found.watch.stop()
    found.thread.join(PATIENCE_S)


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(FolderError) as caught:
        Watch(tmp_path / "no", tmp_path, lambda: None, print)
    assert str(caught.value) == f"{tmp_path / 'no'}: there is no such folder. Make one with `gearfit new FOLDER`."


def test_messages_are_data_in_the_script() -> None:
    state = state_text(1, ["</script><script>alert(1)</script>"])
    assert "</script>" not in state


def test_the_policy_of_the_page_lets_the_script_beside_it_in() -> None:
    policy = "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; script-src 'sha256-x'\">"
    text = page_text(f"<html><head>{policy}</head><body></body></html>")
    assert "content=\"default-src 'none'; script-src 'sha256-x' 'self' file:\"" in text
    assert text.endswith('<script src="watch_state.js"></script>\n</body></html>')
