"""Clocks that are wrong in a few places: these are left out and named before anything is laid out in time."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from gearfit.errors import LogError
from gearfit.fitting.pairing.alignment import align
from gearfit.importers.common.stray_times import strays
from gearfit.records.recording import Recording
from tests.importers.gpx_text import gpx

Read = Callable[..., Recording]

T0 = datetime(2026, 5, 10, 8, 30, tzinfo=UTC)
#: A clock before its first fix; ten bits of week number run over (IS-GPS-200 counts weeks modulo 1024); a slip of the
#: year; and of the month.
WRONG = {
    "never set": datetime(1970, 1, 1, tzinfo=UTC),
    "rollover": T0 - timedelta(weeks=1024),
    "2099": datetime(2099, 1, 1, tzinfo=UTC),
    "a month early": T0 - timedelta(days=30),
}
ROWS = 60


def moments(wrong: datetime, at: int) -> list[datetime]:
    return [wrong if k == at else T0 + timedelta(seconds=k) for k in range(ROWS)]


def elapsed(moment: datetime) -> str:
    return f"{(moment - T0).total_seconds():.1f}"


WRITTEN: dict[str, Callable[[datetime], str]] = {
    "ISO": lambda moment: moment.isoformat().replace("+00:00", "Z"),
    "Unix s": lambda moment: f"{moment.timestamp():.1f}",
    "Unix ms": lambda moment: f"{1000 * moment.timestamp():.0f}",
    "elapsed": elapsed,
    "date and clock": lambda moment: moment.strftime("%Y-%m-%d %H:%M:%S"),
}


@pytest.mark.parametrize("wrong", WRONG)
@pytest.mark.parametrize("at", [0, 1, 30, ROWS - 2, ROWS - 1])
@pytest.mark.parametrize("form", WRITTEN)
def test_one_wrong_time_of_a_log(read: Read, wrong: str, at: int, form: str) -> None:
    header = "time_s" if form == "elapsed" else "time_utc"
    times = [WRITTEN[form](moment) for moment in moments(WRONG[wrong], at)]
    log = read(f"{header},rpm,speed_kmh\n" + "".join(f"{t},{3000 + k},{40 + k}\n" for k, t in enumerate(times)))
    kept = [k for k in range(ROWS) if k != at]
    assert log.samples["row"].tolist() == [k + 2 for k in kept]
    assert log.samples["time_s"].tolist() == pytest.approx([k - kept[0] for k in kept])
    assert log.notes == (f"1 row whose clock disagrees with the rows around left out (the first is line {at + 2}).",)


@pytest.mark.parametrize("wrong", WRONG)
@pytest.mark.parametrize("at", [0, 1, 30, ROWS - 1])
def test_one_wrong_time_of_a_track(read: Read, wrong: str, at: int) -> None:
    points = [
        f'<trkpt lat="{50 + 1e-4 * k}" lon="8"><time>{WRITTEN["ISO"](moment)}</time></trkpt>'
        for k, moment in enumerate(moments(WRONG[wrong], at))
    ]
    track = read(gpx(points))
    assert track.samples["row"].tolist() == [k + 1 for k in range(ROWS) if k != at]
    assert track.samples["time_s"].iloc[-1] < ROWS
    assert track.notes[0] == (
        f"1 point whose clock disagrees with the points around left out (the first is point {at + 1})."
    )


@pytest.mark.parametrize("at", [0, 30])
@pytest.mark.parametrize("text", ["1e308", "-1e308", "1e25"])
def test_numbers_that_cannot_be_times(read: Read, at: int, text: str) -> None:
    log = read("time_s,rpm\n" + "".join(f"{text if k == at else k},{3000 + k}\n" for k in range(ROWS)))
    assert log.samples["time_s"].iloc[-1] <= ROWS
    (note,) = log.notes
    assert note.startswith(f"1 row without a readable time left out (the first is line {at + 2}; ")


def test_only_numbers_that_cannot_be_times(read: Read) -> None:
    with pytest.raises(LogError) as caught:
        read("time_s,rpm\n" + "1e308,3000\n" * 20, "a.csv")
    assert str(caught.value) == (
        "a.csv, column 'time_s': no number in it can be a time (all are beyond 1e+19); allowed is seconds, HH:MM:SS "
        "(or with AM/PM), ISO 8601 (2024-05-01T12:00:00Z) or Unix time. Record the ride again."
    )


@pytest.mark.parametrize("year", ["0099", "9999", "12026", "0000"])
def test_years_out_of_range(read: Read, year: str) -> None:
    times = [WRITTEN["ISO"](moment) for moment in moments(T0, -1)]
    times[7] = f"{year}-05-10T08:30:07Z"
    log = read("time_utc,rpm\n" + "".join(f"{t},{3000 + k}\n" for k, t in enumerate(times)))
    assert log.start_s == T0.timestamp()
    assert log.samples["row"].tolist() == [k + 2 for k in range(ROWS) if k != 7]
    (note,) = log.notes
    assert "(the first is line 9" in note


def test_a_receiver_before_its_first_fix() -> None:
    """Half a minute of 1970 at the start of ten."""
    time_s = np.append(np.arange(30.0), T0.timestamp() + np.arange(600.0))
    assert strays(time_s).tolist() == [True] * 30 + [False] * 600


def test_what_is_no_stray() -> None:
    """Pauses, another day's ride, rows written a little late, parts in another order: nothing is left out."""
    hour = 3600.0
    pause = np.append(np.arange(5.0), 5 * hour + np.arange(600.0))
    other_day = np.append(np.arange(40.0), 48 * hour + np.arange(600.0))
    late = np.arange(600.0)
    late[300:305] -= 20.0
    turned = np.append(np.arange(5 * hour, 5 * hour + 300.0), np.arange(300.0))
    for time_s in (pause, other_day, late, turned, np.full(50, np.nan), np.empty(0)):
        assert not strays(time_s).any()


def test_clocks_of_two_eras_are_compared_without_an_array_between() -> None:
    """Half a ride of 1970 and half of today: too many to call either wrong, and fifty years apart."""
    rng = np.random.default_rng(5)
    ride_s = np.arange(0.0, 400.0, 0.5)
    speed = 15 + 8 * np.sin(ride_s / 9) + 3 * np.sin(ride_s / 3.1) + rng.normal(0, 0.05, ride_s.size)
    far_s = ride_s + np.where(ride_s < 200, 0.0, T0.timestamp())
    found = align(far_s, speed, ride_s, 300.0 * speed, -3000.0, 3000.0)
    assert found is not None
    assert found.offset_s == pytest.approx(0.0, abs=0.11)
