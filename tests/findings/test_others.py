"""Circumference, timed runs, sources and what is missing, in words."""

from __future__ import annotations

import numpy as np
import pytest

from gearfit.findings.verdict import verdict
from tests.findings.conftest import BIKE, SETUPS, Analyse, codes, only, sheet, speeds_kmh

RUNS = "from_kmh,to_kmh,time_s\n"
TEETH = (
    "It rests on the stated tooth counts (final drive 43/16, gearbox and primary drive), gears 1, 2, 3, 4, 5, 6, and a "
    "true tachometer: 1 % on its scale is 1 % of circumference, as is the same 50 rpm too many in every row (of the "
    "change little is left, where both rides have it)."
)


def test_circumference(analyse: Analyse) -> None:
    found = analyse({"bike.toml": BIKE + SETUPS, "before/a.csv": sheet(speeds_kmh(16, circumference_m=2.03))})
    result = found.setups[0].circumference
    assert result is not None
    assert result.estimate_m.contains(2.03)
    start, rest = only(found, "circumference").text.split(" (95 % interval ")
    assert start == "before: rolling circumference 2.030 m"
    assert rest.endswith(f" m), +1.5 % from the nominal 2.000 m. {TEETH}")


def test_a_circumference_far_from_nominal_asks_for_the_teeth(analyse: Analyse) -> None:
    """6.0 % off; a stated circumference (0.5 %) and a tachometer within 3 % explain 2.8 x 1.8 %."""
    found = analyse({"bike.toml": BIKE + SETUPS, "before/a.csv": sheet(speeds_kmh(16, circumference_m=2.12))})
    assert found.setups[0].circumference is None
    said = only(found, "tooth-pairs-of-ride")
    assert said.severity == "warning"
    assert said.text.startswith(
        "before: with the stated 16/43 all gears are 6.0 % off, more than tyre and tachometer explain, so no "
        "circumference is given. "
    )


def test_a_wide_interval_that_holds_the_nominal_is_no_warning(analyse: Analyse) -> None:
    """9.45 km/h read as 9: 5 % off, and the interval of a reading to 1 km/h is wider."""
    assert speeds_kmh(16, rpm=1380)[0] == pytest.approx(9.45, abs=0.06)
    found = analyse({"bike.toml": BIKE + SETUPS, "before/a.csv": sheet([9], rpm=1380)})
    result = found.setups[0].circumference
    assert result is not None
    assert abs(result.estimate_m.value / 2.0 - 1) > 0.03
    assert result.estimate_m.contains(2.0)
    assert {f.severity for f in found.findings if f.code in ("circumference", "tooth-pairs-of-ride")} == {"note"}


@pytest.mark.parametrize(
    ("after", "code", "text"),
    [
        (
            [5.5, 5.7, 5.5],
            "timed-differs",
            "0 to 100 km/h, by stopwatch: 6.20 s before (3 runs), "
            "5.57 s after (3 runs). after is quicker: −0.63 s (95 % interval "
            "−0.88 to −0.39 s), more than the scatter of the runs explains. But dealt out to the setups at random, so "
            "few runs differ so much in 10 % of cases: take more. Runs like these show a "
            "difference of 0.33 s four times out of five.",
        ),
        (
            [6.9, 6.8, 7.0],
            "timed-differs",
            "0 to 100 km/h, by stopwatch: 6.20 s before (3 runs), "
            "6.90 s after (3 runs). after is slower: +0.70 s (95 % interval "
            "+0.47 to +0.93 s), more than the scatter of the runs explains. But dealt out to the setups at random, so "
            "few runs differ so much in 10 % of cases: take more. Runs like these show a "
            "difference of 0.30 s four times out of five.",
        ),
        (
            [6.0, 6.3, 6.2],
            "timed-within-scatter",
            "0 to 100 km/h, by stopwatch: 6.20 s before (3 runs), "
            "6.17 s after (3 runs). The difference, −0.03 s (95 % interval "
            "−0.35 to +0.28 s), is not more than the scatter of the runs. To settle it takes more runs than "
            "anyone would ride (over 30; at best 6) in each setup. Runs like these show a difference of 0.41 s four "
            "times out of five.",
        ),
        (
            [5.5],
            "timed-too-few",
            "0 to 100 km/h, by stopwatch: 6.20 s before (3 runs), "
            "5.50 s after (1 run). A single run in a setup is no comparison: "
            "its scatter is unknown. It is taken to be that of the runs in before. To settle it takes about 4 runs (4 "
            "to over 30) in each setup. Runs like these could not have shown a difference below 0.62 s.",
        ),
    ],
)
def test_timed_runs(analyse: Analyse, after: list[float], code: str, text: str) -> None:
    """Welch's intervals by scipy.stats.ttest_ind; test_runs_needed holds the counts against statsmodels."""
    from scipy import stats

    found = analyse(
        {
            "before/t.csv": RUNS + "".join(f"0,100,{t}\n" for t in (6.1, 6.3, 6.2)),
            "after/t.csv": RUNS + "".join(f"0,100,{t}\n" for t in after),
        }
    )
    said = only(found, code)
    assert said.text.replace("\N{NO-BREAK SPACE}", " ") == text
    if len(after) > 1:
        wanted = stats.ttest_ind(after, [6.1, 6.3, 6.2], equal_var=False).confidence_interval(0.95)
        low, high = (f"{end:+.2f}".replace("-", "−") for end in (wanted.low, wanted.high))
        assert f"(95 % interval {low} to {high} s)" in said.text
        assert (code == "timed-differs") == (not wanted.low <= 0 <= wanted.high)


def test_one_run_each(analyse: Analyse) -> None:
    found = analyse({"before/t.csv": RUNS + "0,100,6.1\n", "after/t.csv": RUNS + "0,100,5.5\n"})
    assert only(found, "timed-too-few").text.endswith(
        " A single run in a setup is no comparison: its scatter is unknown. It is taken to be 3 % of the time, which "
        "is assumed. To settle it takes about 4 runs (4 to over 30) in each setup. Runs like these could not have "
        "shown a difference below 0.73 s."
    )


def test_one_setup(analyse: Analyse) -> None:
    found = analyse({"after/a.csv": sheet(speeds_kmh(16))})
    assert only(found, "one-setup").text == (
        "Only the setup after has a ride, so nothing is compared: put the other ride's logs into a folder named before "
        "beside it."
    )
    assert found.comparisons == ()
    assert "no-timed-runs" not in codes(found)


def test_what_the_bike_file_lacks(analyse: Analyse) -> None:
    bike = BIKE.replace("primary = 2.5\n", "").split("[tyre]")[0] + SETUPS
    found = analyse({"bike.toml": bike, "before/a.csv": sheet(speeds_kmh(16))})
    assert only(found, "bike-file-incomplete").text == (
        "bike.toml does not state [gearbox] primary, [tyre] size: with them the report says more."
    )


def test_a_file_that_is_no_log_is_named(analyse: Analyse) -> None:
    found = analyse({"before/a.csv": sheet(speeds_kmh(16)), "notes.txt": "nothing but words\n"})
    said = only(found, "file-left-aside")
    assert said.severity == "warning"
    assert "notes.txt" in said.text


def track(start: str, n: int = 120) -> str:
    points = "".join(
        f'<trkpt lat="{50 + 1e-4 * k:.5f}" lon="8"><time>2026-05-10T{start}:{k // 60:02d}:{k % 60:02d}Z</time></trkpt>'
        for k in range(n)
    )
    return (
        '<gpx version="1.1" creator="invented" xmlns="http://www.topografix.com/GPX/1/1">'
        f"<trk><trkseg>{points}</trkseg></trk></gpx>"
    )


def test_recorders_that_do_not_overlap(analyse: Analyse) -> None:
    log = "time,rpm\n" + "".join(f"2026-05-10T12:{k // 60:02d}:{k % 60:02d}Z,{4000 + k}\n" for k in range(120))
    found = analyse({"before/a.csv": sheet(speeds_kmh(16)), "before/r.csv": log, "before/t.gpx": track("09")})
    assert only(found, "recording-not-used").text == (
        "before/t.gpx and before/r.csv do not overlap in time: check the clocks, and whether both belong to this setup."
    )


def test_speeds_from_positions_are_said_to_be(analyse: Analyse) -> None:
    log = "time,rpm\n" + "".join(f"2026-05-10T09:{k // 60:02d}:{k % 60:02d}Z,{4000}\n" for k in range(120))
    found = analyse({"before/r.csv": log, "before/t.gpx": track("09")})
    assert only(found, "speed-from-positions").text == (
        "before: the track holds no speeds, so they were derived from positions, which is less sharp than the "
        "receiver's own speed. A recorder that stores speed gives narrower intervals."
    )


def test_too_few_samples_for_gears(analyse: Analyse) -> None:
    rows = "".join(f"{k},{10 + k},{3000 + 10 * k}\n" for k in range(12))
    found = analyse({"before/log.csv": "time_s,speed_kmh,rpm\n" + rows})
    assert only(found, "no-gears").text == (
        "before: no gears were found: 12 moving samples are too few to find gears in."
    )


def even_ladder_log(gears: tuple[int, ...]) -> str:
    """Ride up through some gears of an even ladder, ten seconds each, on invented instruments."""
    rng = np.random.default_rng(3)
    rows, time_s = ["time_s,speed_kmh,rpm"], 0.0
    for gear in gears * 3:
        speed = np.linspace(10 + 2 * gear, 14 + 2 * gear, 100) + 0.05 * rng.standard_normal(100)
        ratio = 25.0 / 1.12 ** (gear - 1)
        for v in speed:
            rows.append(f"{time_s:.1f},{3.6 * v:.2f},{60 * v * ratio / 2.0 * 0.5:.0f}")
            time_s += 0.1
        time_s += 1.0
    return "\n".join(rows) + "\n"


def test_a_ladder_that_fits_one_gear_off(analyse: Analyse) -> None:
    """Gears 2 to 5 of six even steps with sprockets and tyre not stated may be 1 to 4 or 3 to 6 as well."""
    gears = [round(2.8 / 1.12**k, 6) for k in range(6)]
    found = analyse({"bike.toml": f"[gearbox]\ngears = {gears}\n", "before/log.csv": even_ladder_log((2, 3, 4, 5))})
    said = only(found, "gear-numbering-uncertain")
    assert said.severity == "warning"
    assert said.text.startswith("before: the ladder of gears fits almost as well ")
    assert said.text.endswith(") may be numbered one off: ride more gears, or state tyre and sprockets.")


def test_gears_from_the_samples(analyse: Analyse) -> None:
    found = analyse({"before/log.csv": even_ladder_log((1, 2, 3, 4))})
    assert only(found, "gears-from-samples").text == (
        "before: without tooth counts the gears were found in the samples and numbered from the highest engine speed "
        "per road speed (gears 1–4); a gear that was never ridden would shift the numbers of those above it."
    )


def test_speedometer_beside_measured_speeds_is_kept_and_said(analyse: Analyse) -> None:
    rows = [line.split(",") for line in sheet(speeds_kmh(16)).splitlines()]
    text = "\n".join(",".join([*row, row[2] if i else "indicated_kmh"]) for i, row in enumerate(rows))
    found = analyse({"before/a.csv": text})
    assert found.setups[0].speed_source == "hand"
    assert found.setups[0].samples["gear"].notna().all()


def test_the_terminal_says_where_spans_do_not_agree(analyse: Analyse) -> None:
    found = analyse(
        {
            "before/t.csv": RUNS + "0,60,3.1\n0,60,3.3\n0,60,3.2\n0,100,6.1\n0,100,6.3\n0,100,6.2\n",
            "after/t.csv": RUNS + "0,60,3.2\n0,60,3.1\n0,60,3.3\n0,100,5.5\n0,100,5.7\n0,100,5.5\n",
        }
    )
    lines = [line.replace("\N{NO-BREAK SPACE}", " ") for line in verdict(found)]
    assert "0 to 60 km/h: 3.20 s, then 3.20 s; no more than the scatter; not so in every span, see the report" in lines


def test_gears_that_cannot_be_read_do_not_make_the_others_count_anew(analyse: Analyse) -> None:
    """First to sixth in words, and one row that says "top": the change is one tooth of 16, not another gear."""
    words = ("1st", "2nd", "third", "IV", "5.", "top")
    files = {
        f"{setup}/holds.csv": "gear,rpm,speed_kmh\n"
        + "".join(f"{word},5000,{speed}\n" for word, speed in zip(words, speeds_kmh(front), strict=True))
        for setup, front in (("before", 16), ("after", 15))
    }
    found = analyse(files)
    change = found.comparisons[0].all_gears_change_percent
    assert change is not None
    assert change.lo95 < 100 * (15 / 16 - 1) < change.hi95
    assert [row.gear for row in found.comparisons[0].gears] == [1, 2, 3, 4, 5]
    assert [finding.text for finding in found.findings if finding.code == "rows-not-read"] == [
        f"{setup}/holds.csv: Line 7, column 'gear': 'top' is no gear that can be read; that row is left out. Write "
        "the gear as a number from 1 to 8, N in neutral, or nothing where it is not known."
        for setup in ("before", "after")
    ]
    assert {finding.severity for finding in found.findings if finding.code == "rows-not-read"} == {"warning"}


def test_a_copy_counts_once_and_is_named(analyse: Analyse) -> None:
    """A copy beside the sheet changes no interval."""
    files = {f"{setup}/a.csv": sheet(speeds_kmh(front)) for setup, front in (("before", 16), ("after", 15))}
    alone = analyse(files).comparisons[0].all_gears_change_percent
    found = analyse({"before/a (1).csv": files["before/a.csv"]})
    assert only(found, "same-readings-twice").text == (
        "before/a (1).csv holds the same readings as before/a.csv and counts once: remove the one that is the copy."
    )
    assert only(found, "same-readings-twice").severity == "warning"
    assert found.comparisons[0].all_gears_change_percent == alone


def test_the_same_readings_before_and_after_are_named(analyse: Analyse) -> None:
    found = analyse({"before/a.csv": sheet(speeds_kmh(16)), "after/b.csv": sheet(speeds_kmh(16))})
    assert only(found, "same-readings-in-two-setups").text == (
        "before/a.csv and after/b.csv hold the same readings, so that both setups rest on the same ride and differ "
        "less than the machine does: leave each file in the setup in which it was ridden."
    )
