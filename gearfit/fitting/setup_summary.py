"""From the fit of a setup to its result record: per gear, circumference, deviations from the tooth counts."""

from __future__ import annotations

from collections.abc import Set
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.fitting.ratios.agreement import Agreement, common_level
from gearfit.fitting.ratios.drivetrain import fit_drivetrain
from gearfit.fitting.ratios.levels import Levels
from gearfit.fitting.ratios.quantiles import estimate, log_estimate, percent_change
from gearfit.fitting.ratios.timed_fit import TimedFit
from gearfit.fitting.setup_fit import SetupFit, sample_frame
from gearfit.fitting.which_gear.numbering import SURE
from gearfit.machine.bike import Bike, Setup
from gearfit.records.recording import INSTRUMENTS, RideSetup
from gearfit.records.results import (
    ChannelNoise,
    Circumference,
    Estimate,
    GearResult,
    OutlyingRow,
    SetupResult,
    TimedSpan,
)

FloatArray = NDArray[np.float64]

#: How far a speed that the machine itself says may be off, as a relative standard deviation: nominal tyre and whole
#: numbers in its computer (2 to 3 %: our assumption; law asks of no such figure more than of the speedometer).
MACHINE_SPEED_SD: Final = 0.025
#: What a circumference rests on beside, by the kind of speed.
_WHOSE: Final = {
    "machine": ", the machine's own speed, which may be off by some per cent (2.5 % standard deviation is assumed)",
    "wheel or logger": ", the log's speed, whose header does not say what measured it",
}


def summarise(bike: Bike, ride: RideSetup, fit: SetupFit, timed_spans: tuple[TimedSpan, ...]) -> SetupResult:
    """Make the result of one setup from its fit and its timed runs."""
    samples = sample_frame(fit)
    numbered = fit.numbering.log_odds >= SURE
    agreement = ladder_agreement(bike, ride.setup, fit.levels) if numbered else None
    left_out = samples.loc[samples["left_out"] != "", "left_out"].value_counts(sort=False)
    source = speed_source(ride, files_used(fit))
    speed_sd = _speed_sd(bike, source)
    return SetupResult(
        setup=ride.setup,
        samples=samples,
        left_out={str(reason): int(count) for reason, count in left_out.items()},
        speed_source=source,
        ladder="none" if fit.levels is None else fit.ladder.origin if fit.ladder is not None else "from the samples",
        gears=_gears(bike, ride.setup, fit.levels, agreement, samples, speed_sd),
        circumference=_circumference(bike, ride.setup, fit.levels, agreement, source, speed_sd) if numbered else None,
        lag_s=_lag(fit.timed),
        speedometer=None,
        timed_spans=timed_spans,
        outlying_rows=_outlying(fit),
        sounds=tuple(recording.sound for recording in ride.recordings if recording.sound is not None),
        noise=_noise(fit.timed),
        gears_by_starts=fit.timed is not None and fit.timed.by_starts,
    )


def _noise(timed: TimedFit | None) -> tuple[ChannelNoise, ...]:
    if timed is None:
        return ()
    return tuple(
        ChannelNoise(
            file=found.stream.file,
            speed_white_mps=found.noise.white_mps,
            speed_correlated_mps=found.noise.correlated_mps,
            correlation_s=found.noise.correlation_s,
            engine_relative=found.noise.relative,
            speed_interval_s=float(np.median(np.diff(found.stream.time_s))),
            engine_interval_s=float(np.median(np.diff(found.stream.rpm_time_s))),
            speed_step_mps=found.stream.speed_step_mps or None,
            speed_raised_mps=found.offset_mps,
        )
        for found in timed.streams
        if found.noise is not None
    )


def speed_source(ride: RideSetup, used: Set[str] = frozenset()) -> str:
    """Name where the speeds of a setup come from.

    Sheets of shown and measured speeds alone, which judge the instrument, do not count where others hold engine speeds.

    Parameters
    ----------
    ride : RideSetup
        The setup.
    used : set of str
        Files whose speeds the fit used; all where there are none.

    Returns
    -------
    str
        As `Recording.speed_source`; "mixed" where from several kinds, but "machine" where that is one of them.
    """
    of_fit = {recording.speed_source for recording in ride.recordings if recording.file in used} - {"none"}
    of_gears = [r for r in ride.recordings if r.kind != "samples" or r.samples["engine_rpm"].notna().any()]
    sources = of_fit or {recording.speed_source for recording in of_gears or ride.recordings} - {"none"}
    if len(sources) > 1:
        sources -= {"speedometer"}
    if "machine" in sources:
        return "machine"
    return sources.pop() if len(sources) == 1 else "mixed" if sources else "none"


def files_used(fit: SetupFit) -> Set[str]:
    """Return the files whose speeds a fit used."""
    sheets = fit.material.table["file"].iloc[fit.material.sheet.rows]
    return {stream.file for stream in fit.material.streams} | set(sheets)


def _speed_sd(bike: Bike, source: str) -> float | None:
    """Return how far all speeds together may be off, as a share; None where they say nothing about the road.

    A machine's own speed does where it is known to be taken from a wheel; from the gearbox it is reckoned with
    sprockets that need not be those fitted.
    """
    if source not in INSTRUMENTS:
        return 0.0
    return MACHINE_SPEED_SD if source == "machine" and bike.speedometer.at_wheel else None


def nominal_ratios(bike: Bike, setup: Setup, gears: NDArray[np.int64]) -> FloatArray:
    """Overall ratios from the tooth counts for each gear number in `gears`; NaN where unknown."""
    overall = bike.overall_ratios(setup)
    return _pick(overall, gears)


def _pick(ratios: tuple[float, ...] | None, gears: NDArray[np.int64]) -> FloatArray:
    picked: FloatArray = np.full(gears.size, np.nan)
    if ratios is not None:
        known = gears <= len(ratios)
        picked[known] = np.array(ratios)[gears[known] - 1]
    return picked


def ladder_agreement(bike: Bike, setup: Setup, levels: Levels | None) -> Agreement | None:
    """See how the gears agree with the ladder of the tooth counts; None where it is stated of fewer than two.

    The common level is ln(ratio) - ln(n/v): ln(C/60) where the ratios are overall ratios.
    """
    if levels is None:
        return None
    ratios = _pick(bike.overall_ratios(setup) or bike.gearbox.gears, levels.gear)
    known = np.flatnonzero(np.isfinite(ratios))
    if known.size < 2:
        return None
    part = np.ix_(known, known)
    found = common_level(np.log(ratios[known]) - levels.log_ratio[known], levels.covariance[part], levels.dof)
    agrees, departure, se = (np.full(levels.gear.size, fill) for fill in (True, np.nan, np.nan))
    agrees[known], departure[known], se[known] = found.agrees, found.departure, found.departure_se
    return Agreement(found.value, found.variance, agrees.astype(bool), departure, se)


def _gears(
    bike: Bike,
    setup: Setup,
    levels: Levels | None,
    agreement: Agreement | None,
    samples: pd.DataFrame,
    speed_sd: float | None,
) -> tuple[GearResult, ...]:
    if levels is None:
        return ()
    nominal = nominal_ratios(bike, setup, levels.gear)
    counts = samples["gear"].value_counts()
    overall = [None] * levels.gear.size if speed_sd is None else _overall(setup, levels, speed_sd)
    se = np.sqrt(np.diag(levels.covariance))
    return tuple(
        GearResult(
            gear=int(gear),
            samples=int(counts.get(gear, 0)),
            passages=int(levels.passages[i]),
            speed_per_1000rpm_mps=log_estimate(-float(levels.log_ratio[i]), float(se[i]), levels.dof, 1000.0),
            overall_ratio=overall[i],
            nominal_overall_ratio=float(nominal[i]) if np.isfinite(nominal[i]) else None,
            deviation_percent=_deviation(agreement, i, levels.dof),
            consistent=None if agreement is None or np.isnan(agreement.departure[i]) else bool(agreement.agrees[i]),
        )
        for i, gear in enumerate(levels.gear)
    )


def _overall(setup: Setup, levels: Levels, speed_sd: float) -> list[Estimate | None]:
    """Overall ratios given the circumference stated for the tyre (None without one)."""
    circumference_m, sd_m = setup.tyre.nominal_circumference_m, setup.tyre.nominal_circumference_sd_m
    if circumference_m is None or sd_m is None:
        return [None] * levels.gear.size
    fitted = fit_drivetrain(
        levels.log_ratio,
        levels.covariance,
        circumference_m=circumference_m,
        circumference_relative_sd=float(np.hypot(sd_m / circumference_m, speed_sd)),
    )
    se = np.sqrt(np.diag(fitted.covariance))[1:]
    return [
        log_estimate(float(value), float(error), levels.dof) for value, error in zip(fitted.log_ratios, se, strict=True)
    ]


def _deviation(agreement: Agreement | None, i: int, dof: float) -> Estimate | None:
    if agreement is None or not np.isfinite(agreement.departure[i]):
        return None
    return percent_change(-float(agreement.departure[i]), float(agreement.departure_se[i]), dof)


def _circumference(
    bike: Bike,
    setup: Setup,
    levels: Levels | None,
    agreement: Agreement | None,
    source: str,
    speed_sd: float | None,
) -> Circumference | None:
    """Find the rolling circumference given the tooth counts, from the gears that agree with each other."""
    if levels is None or speed_sd is None:
        return None
    nominal = nominal_ratios(bike, setup, levels.gear)
    use = np.isfinite(nominal)
    if agreement is not None and agreement.agrees.any():
        use &= agreement.agrees
    if not use.any():
        return None
    fitted = fit_drivetrain(levels.log_ratio[use], levels.covariance[np.ix_(use, use)], ratio=nominal[use])
    log_se = float(np.hypot(np.sqrt(fitted.covariance[0, 0]), speed_sd))
    # Welch's degrees of freedom: what is not found from scatter has endless ones
    dof = levels.dof * float(log_se**2 / fitted.covariance[0, 0]) ** 2 if speed_sd else levels.dof
    return Circumference(
        estimate_m=log_estimate(fitted.log_circumference, log_se, dof),
        nominal_m=setup.tyre.nominal_circumference_m,
        rests_on=(
            f"the stated tooth counts (final drive {setup.final_drive.rear}/{setup.final_drive.front}, gearbox and "
            f"primary drive), {_named(levels.gear[use])}{_WHOSE.get(source, '')}, and a true tachometer: 1 % on its "
            "scale is 1 % of circumference"
        ),
    )


def _named(gears: NDArray[np.int64]) -> str:
    return f"gear {gears[0]}" if gears.size == 1 else "gears " + ", ".join(str(g) for g in gears)


def _lag(timed: TimedFit | None) -> Estimate | None:
    """Lead of the engine-speed channel, over the logs that could tell, weighted by their precision."""
    known = [s for s in timed.streams if s.lag_known] if timed is not None and timed.levels is not None else []
    if not known or timed is None or timed.levels is None:
        return None
    weights = np.array([s.lag_se_s**-2 for s in known])
    value = float(np.average([s.lag_s for s in known], weights=weights))
    return estimate(value, float(weights.sum() ** -0.5), timed.levels.dof)


def _outlying(fit: SetupFit) -> tuple[OutlyingRow, ...]:
    """Rows of sheets that do not agree with the other readings."""
    sheet, table = fit.material.sheet, fit.material.table
    records = []
    for odd in fit.sheet.odd:
        row = table.iloc[sheet.rows[odd.position]]
        records.append(
            OutlyingRow(
                file=str(row["file"]),
                row=int(row["row"]),
                gear=int(fit.sheet.gear[odd.position]),
                engine_rpm=float(row["engine_rpm"]),
                speed_mps=float(sheet.speed_mps[odd.position]),
                expected_mps=float(row["engine_rpm"] / np.exp(odd.expected_log_ratio)),
                z=odd.z,
            )
        )
    return tuple(records)
