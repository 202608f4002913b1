"""Analyses made by hand for the report's tests: invented machines, invented rides, plausible numbers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from gearfit.comparison.timed_spans import compare_spans
from gearfit.machine.bike import Bike, Conditions, Engine, FinalDrive, Gearbox, Setup, Tyre
from gearfit.records.results import (
    Analysis,
    CardLine,
    Circumference,
    Comparison,
    Correction,
    Estimate,
    Finding,
    GearChange,
    GearResult,
    OutlyingRow,
    SetupResult,
    SpanComparison,
    SpanSummary,
    Speedometer,
    SpeedometerPoint,
    SprocketPair,
    TimedSpan,
)

CIRCUMFERENCE_M = 1.962
PRIMARY = 2.96
GEARS = (2.75, 1.94, 1.53, 1.27, 1.11, 1.0)
REAR = 43
NASTY = "<script>alert(1)</script>"


def estimate(value: float, se: float) -> Estimate:
    """An estimate with plenty of degrees of freedom."""
    return Estimate(value, se, value - 1.96 * se, value + 1.96 * se)


def ratios(front: int, gears: tuple[float, ...] = GEARS) -> list[float]:
    return [PRIMARY * gear * REAR / front for gear in gears]


def samples(front: int, seed: int, n: int = 4000, gears: tuple[float, ...] = GEARS) -> pd.DataFrame:
    """A ride of `n` samples, one in eight of them in no gear, three of them with a value missing."""
    rng = np.random.default_rng(seed)
    gear = rng.integers(1, len(gears) + 1, n)
    rpm = rng.uniform(2500, 9500, n)
    speed = rpm / 1000 * (1000 * CIRCUMFERENCE_M / 60 / np.array(ratios(front, gears)))[gear - 1]
    speed = np.abs(speed + rng.normal(0, 0.15, n))
    out = rng.random(n) < 0.125
    rpm[out] *= rng.uniform(0.4, 1.5, int(out.sum()))
    rpm[:3] = np.nan
    out[:3] = True
    table = pd.DataFrame({"file": pd.Series(["morning.gpx"] * n, dtype="str"), "row": np.arange(1, n + 1)})
    table["time_s"] = np.arange(n) * 0.1
    table["speed_mps"] = speed
    table["engine_rpm"] = rpm
    table["gear"] = pd.array([None if o else int(g) for o, g in zip(out, gear, strict=True)], dtype="Int64")
    reasons = ["clutch in, shifting or wheelspin" if o else "" for o in out]
    reasons[:3] = ["no engine speed"] * 3
    table["left_out"] = pd.Series(reasons, dtype="str")
    with np.errstate(divide="ignore"):
        table["ln_ratio"] = np.log(rpm / speed)
    return table


def setup_result(name: str, front: int, seed: int, times: tuple[float, ...], *, known: bool = True) -> SetupResult:
    table = samples(front, seed)
    nominal = ratios(front)
    gears = tuple(
        GearResult(
            gear=number,
            samples=int((table["gear"] == number).sum()),
            passages=12 + number,
            speed_per_1000rpm_mps=estimate(
                1000 * CIRCUMFERENCE_M / 60 / nominal[number - 1] * (1 + 2e-4 * number), 0.004
            ),
            overall_ratio=estimate(nominal[number - 1] * 1.001, 0.02) if known else None,
            nominal_overall_ratio=nominal[number - 1] if known else None,
            deviation_percent=estimate((-1) ** number * 0.12, 0.1) if known else None,
            consistent=True if known else None,
        )
        for number in range(1, 7)
    )
    counts = table.loc[table["gear"].isna(), "left_out"].value_counts()
    return SetupResult(
        setup=Setup(name, FinalDrive(front=front, rear=REAR), Tyre(size="140/70-17")),
        samples=table,
        left_out={str(reason): int(n) for reason, n in counts.items()},
        speed_source="receiver",
        ladder="tooth counts" if known else "from the samples",
        gears=gears,
        circumference=Circumference(
            estimate(CIRCUMFERENCE_M, 0.003), 1.955, "six gears, the tooth counts as stated and the tachometer's scale"
        )
        if known
        else None,
        lag_s=estimate(0.21, 0.02),
        speedometer=None,
        timed_spans=tuple(TimedSpan("timed.csv", 0.0, 100 / 3.6, None, estimate(time, 0.15)) for time in times)
        + tuple(TimedSpan("morning.gpx", 60 / 3.6, 100 / 3.6, 40.0, estimate(time / 2, 0.3)) for time in times[:1]),
        outlying_rows=(),
    )


def summary(result: SetupResult, from_mps: float) -> SpanSummary:
    times = [run.time_s.value for run in result.timed_spans if run.from_mps == from_mps]
    if not times:
        return SpanSummary(1, 5.0, None)
    return SpanSummary(len(times), float(np.mean(times)), float(np.std(times, ddof=1)) if len(times) > 1 else None)


def comparison(reference: SetupResult, other: SetupResult, *, known: bool = True) -> Comparison:
    assert reference.setup.final_drive.front
    assert other.setup.final_drive.front
    predicted = 100 * (other.setup.final_drive.front / reference.setup.final_drive.front - 1)
    wobble = (0.05, 1.9, -0.1, 0.08, 0.02, -0.05)
    changes = tuple(
        GearChange(
            number,
            estimate(predicted + wobble[number - 1], 0.16),
            predicted if known else None,
            number != 2 if known else None,
        )
        for number in range(1, 7)
    )
    spans = (
        SpanComparison(
            0.0,
            100 / 3.6,
            summary(reference, 0.0),
            summary(other, 0.0),
            Estimate(-0.37, 0.14, -0.72, -0.02),
            estimate(-0.25, 0.05),
            5,
        ),
        SpanComparison(60 / 3.6, 100 / 3.6, summary(reference, 60 / 3.6), summary(other, 60 / 3.6), None, None, None),
    )
    pairs = (
        SprocketPair(13, 43, predicted, 0.934),
        SprocketPair(14, 46, -6.5, 0.06),
        SprocketPair(14, 47, -8.5, 0.006),
    )
    return Comparison(
        reference.setup.name,
        other.setup.name,
        predicted if known else None,
        changes,
        estimate(predicted + 0.21, 0.11),
        pairs if known else (),
        spans,
    )


def two_setups(name: str = "Fell 420", speed_unit: str = "kmh") -> Analysis:
    """Front sprocket 14 to 13 on an invented bike; second gear out of line."""
    before = setup_result("before", 14, 1, (6.31, 6.55, 6.22, 6.6))
    after = setup_result("after", 13, 2, (6.01, 5.83, 6.36, 6.0))
    row = OutlyingRow("holds.csv", 4, 2, 5000.0, 17.9, 16.2, 5.3)
    after = replace(after, outlying_rows=(row,))
    findings = (
        Finding(
            "note",
            "change-agrees",
            "All gears together moved by −6.93 % (−7.15 to −6.71); 13 instead of 14 teeth at the front say −7.14 %: "
            "they agree.",
        ),
        Finding(
            "warning",
            "gear-out-of-line",
            "Second gear does not: −5.24 % is 12 standard errors away. Look at row 4 of holds.csv again.",
        ),
        Finding("note", "circumference", "The tyre rolls 1.962 m (1.956 to 1.968) per turn; its size says 1.955 m."),
        Finding(
            "note",
            "timed-differs",
            "0 to 100 km/h takes 0.37 s less (0.02 to 0.72): more than the scatter of the runs.",
        ),
        Finding(
            "warning", "timed-too-few", "60 to 100 km/h was timed once per ride: that is no comparison. Ride four more."
        ),
    )
    bike = Bike(name, Engine(2, 4, 10500.0), Gearbox(PRIMARY, GEARS), before.setup.final_drive, before.setup.tyre)
    return Analysis(bike, speed_unit, (before, after), (comparison(before, after),), findings)


def nasty_names() -> Analysis:
    """Names that are markup, formulas, mathematics, or of letters that the font lacks."""
    analysis = two_setups(name=f'{NASTY} & "Ωmega" $x_1^2$ 山')
    before, after = analysis.setups
    table = before.samples.copy()
    table["file"] = pd.Series([f"=HYPERLINK({NASTY})"] * len(table), dtype="str")
    table.loc[5, "file"] = 'a,b"c.csv'
    before = replace(before, samples=table)
    after = replace(after, outlying_rows=(replace(after.outlying_rows[0], file=f"{NASTY}.csv"),))
    return replace(
        analysis,
        setups=(before, after),
        findings=(*analysis.findings, Finding("warning", "file-left-aside", f"{NASTY}.txt: cannot be read.")),
    )


def one_setup() -> Analysis:
    """One ride only."""
    analysis = two_setups()
    finding = Finding(
        "warning", "one-setup", "Only the ride “before” is there: nothing to compare. Add a folder “after”."
    )
    return replace(analysis, setups=analysis.setups[:1], comparisons=(), findings=(finding,))


def without_bike() -> Analysis:
    """Two rides without bike.toml: gears from the samples, nothing nominal."""
    before = setup_result("before", 14, 1, (), known=False)
    after = setup_result("after", 13, 2, (), known=False)
    bare = [replace(result, setup=Setup(result.setup.name), timed_spans=()) for result in (before, after)]
    compared = replace(comparison(before, after, known=False), timed_spans=())
    findings = (Finding("note", "change-measured", "All gears together moved by −6.9 %. No tooth counts were stated."),)
    return Analysis(Bike(), "mph", (bare[0], bare[1]), (compared,), findings)


def without_gears() -> Analysis:
    """A ride in which no stepped gears can be seen."""
    analysis = one_setup()
    table = analysis.setups[0].samples.copy()
    table["gear"] = pd.array([None] * len(table), dtype="Int64")
    table["left_out"] = "no stepped gears"
    result = replace(
        analysis.setups[0],
        samples=table,
        gears=(),
        ladder="none",
        circumference=None,
        lag_s=None,
        timed_spans=(),
        left_out={"no stepped gears": len(table)},
    )
    finding = Finding("warning", "no-gears", "The samples show no stepped gears: an automatic, or too few samples.")
    return replace(analysis, setups=(result,), findings=(finding,))


def speedometer_point(true_mps: float, gain: float, verdict: str) -> SpeedometerPoint:
    shown = estimate(gain * true_mps + 0.1, 0.2)
    return SpeedometerPoint(
        true_mps, shown, shown.shifted(-true_mps), true_mps, 1.1 * true_mps + 4 / 3.6, verdict, None
    )


def speedometer(gain: float, verdict: str) -> Speedometer:
    """Ten readings of an instrument with UNECE R39 as the rule."""
    true = np.linspace(8, 36, 10)
    return Speedometer(
        gain=estimate(gain, 0.01),
        offset_mps=estimate(0.1, 0.1),
        at=tuple(speedometer_point(speed / 3.6, gain, verdict) for speed in (40.0, 80.0, 120.0)),
        verdict=verdict,
        correction_factor=1 / gain,
        rule="UNECE R39",
        linear=True,
        lag_s=None,
        floor_mps=None,
        ceiling_mps=None,
        readings=pd.DataFrame(
            {
                "file": pd.Series(["dash.csv"] * 10, dtype="str"),
                "row": np.arange(2, 12),
                "true_mps": true,
                "shown_mps": gain * true + 0.1 + 0.1 * (-1.0) ** np.arange(10),
                "set_aside": pd.Series([""] * 9 + ["out of line with the other readings"], dtype="str"),
            }
        ),
        units=10,
        rests_on=("readings of shown and measured speed",),
        notes=(),
        curve=tuple(speedometer_point(float(speed), gain, verdict) for speed in np.linspace(8, 36, 15)),
        correction=Correction(
            round(1 / gain, 3),
            0.001,
            tuple(speedometer_point(speed / 3.6, 1.0, verdict) for speed in (40.0, 80.0, 120.0)),
        ),
        card=tuple(CardLine(k * 10 / 3.6, estimate((k * 10 / 3.6 - 0.1) / gain, 0.2)) for k in range(3, 13)),
    )


def crowded() -> Analysis:
    """Two setups with a folder full of files that could not be read, and five runs of three spans."""
    analysis = two_setups()
    ends = ((0.0, 100 / 3.6), (0.0, 60 * 1609.344 / 3600), (60 / 3.6, 100 / 3.6))
    times = (6.31, 6.55, 6.22, 6.6, 6.4)
    runs = tuple(TimedSpan("timed.csv", *span, None, estimate(time, 0.15)) for span in ends for time in times)
    spans = tuple(replace(analysis.comparisons[0].timed_spans[0], from_mps=a, to_mps=b) for a, b in ends)
    problem = "allowed is -180 to 180 degrees. Correct or remove the point, or write the ride's track anew"
    files = [f"{where}/part-{k}.gpx" for where in ("before", "after") for k in range(30)]
    unread = (Finding("warning", "file-left-aside", f"{file}, point 1: lon is 'x'; {problem}.") for file in files)
    return replace(
        analysis,
        setups=tuple(replace(result, timed_spans=runs) for result in analysis.setups),
        comparisons=(replace(analysis.comparisons[0], timed_spans=spans),),
        findings=(*analysis.findings, *unread),
    )


def sheet_only() -> Analysis:
    """Hand sheets of six rows, second gear misread, one setup whose speedometer was checked."""
    analysis = two_setups(speed_unit="mph")
    small = []
    for result in analysis.setups:
        slopes = [gear.speed_per_1000rpm_mps.value for gear in result.gears]
        table = result.samples.iloc[10:16].reset_index(drop=True).copy()
        table["gear"] = pd.array(range(1, 7), dtype="Int64")
        table["left_out"] = ""
        table["time_s"] = np.nan
        table["engine_rpm"] = 5000.0
        table["speed_mps"] = 5 * np.array(slopes)
        table["ln_ratio"] = np.log(table["engine_rpm"] / table["speed_mps"])
        gears = tuple(replace(gear, samples=1, passages=1) for gear in result.gears)
        small.append(replace(result, samples=table, gears=gears, left_out={}, lag_s=None, speed_source="hand"))
    table = small[1].samples.copy()
    table.loc[1, "speed_mps"] = 17.9
    after = replace(small[1], samples=table, speedometer=speedometer(1.05, "within"))
    return replace(analysis, setups=(small[0], after))


def timed_only() -> Analysis:
    """Hand-timed runs and nothing else, not even a finding."""
    analysis = two_setups()
    bare = [
        replace(
            result,
            samples=result.samples.iloc[:0],
            gears=(),
            left_out={},
            ladder="none",
            circumference=None,
            lag_s=None,
            outlying_rows=(),
        )
        for result in analysis.setups
    ]
    compared = replace(analysis.comparisons[0], gears=(), all_gears_change_percent=None, sprocket_candidates=())
    return replace(analysis, setups=(bare[0], bare[1]), comparisons=(compared,), findings=())


def three_setups() -> Analysis:
    """Three sprocket sets, an endless name, nan where an interval has no end."""
    analysis = two_setups(
        name="Long-Distance Twin of the Northern Valley Touring Association with Both Panniers Fitted"
    )
    third = setup_result("motorway set with the larger front sprocket", 15, 3, (6.9, 7.0))
    compared = comparison(analysis.setups[0], third)
    open_ended = Estimate(compared.gears[0].change_percent.value, float("nan"), float("-inf"), float("inf"))
    first = replace(compared.gears[0], change_percent=open_ended)
    compared = replace(compared, gears=(first, *compared.gears[1:]))
    return replace(analysis, setups=(*analysis.setups, third), comparisons=(*analysis.comparisons, compared))


def found_runs() -> Analysis:
    """Runs of all manners found in a ride, some both ways of a road that climbs, and two by hand over the same span."""
    analysis = two_setups()
    setups = []
    for result, later in zip(analysis.setups, (0.0, -0.3), strict=True):
        start = TimedSpan(
            *("ride.gpx", 0.0, 100 / 3.6, 83.21, estimate(6.3, 0.03), "ride", "standing start", (1, 2, 3)),
            errors_s={"start": 0.011, "end": 0.02, "common": 0.0},
            rollout_time_s=estimate(6.0, 0.03),
        )
        there = replace(start, heading_deg=41.0, grade_percent=estimate(0.62, 0.11))
        back = replace(start, time_s=estimate(6.7, 0.03), heading_deg=220.7, grade_percent=estimate(-0.6, 0.1))
        by_hand = TimedSpan("timed.csv", 60 / 3.6, 100 / 3.6, None, estimate(4.0, 0.1))
        third = replace(by_hand, start_s=12.0, kind="ride", how="roll-on", gears=(3,))
        through = replace(third, how="through the gears", gears=(2, 3))
        runs = tuple(
            replace(run, time_s=estimate(run.time_s.value + later + more, run.time_s.se))
            for run in (there, back, by_hand, third, through)
            for more in (0.1, -0.1)
        )
        runs = tuple(
            replace(run, corrected_time_s=run.time_s.scaled(0.9)) if run.rollout_time_s else run for run in runs
        )
        setup = replace(result.setup, conditions=Conditions(30.0, 950.0, None, "SAE J1349"))
        setups.append(replace(result, setup=setup, timed_spans=runs))
    spans = compare_spans(setups[0].timed_spans, setups[1].timed_spans, lambda run: estimate(-0.2, 0.1))
    compared = replace(analysis.comparisons[0], timed_spans=spans)
    return replace(analysis, setups=tuple(setups), comparisons=(compared,), findings=())


ALL = (
    *(two_setups, nasty_names, one_setup, without_bike, without_gears, sheet_only, timed_only, three_setups),
    found_runs,
)
