"""The fit of one ride that is at hand as arrays, without files."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from gearfit.fitting.setup_fit import fit_setup, gather_setup
from gearfit.fitting.setup_summary import summarise
from gearfit.fitting.which_gear.ladder import from_teeth
from gearfit.importers.common.written_step import written_step
from gearfit.importers.text.held import refreshed
from gearfit.machine.bike import Bike, Setup
from gearfit.records.recording import Recording, RideSetup
from gearfit.records.results import SetupResult
from gearfit.records.schema import run_table, sample_table

FloatArray = NDArray[np.float64]

_NAME: Final = "arrays"


def fit(
    *,
    speed_mps: ArrayLike,
    engine_rpm: ArrayLike,
    time_s: ArrayLike | None = None,
    gear: ArrayLike | None = None,
    bike: Bike | None = None,
    setup: str | None = None,
) -> SetupResult:
    """Fit gears, overall ratios and circumference to one ride.

    Parameters
    ----------
    speed_mps, engine_rpm : (n,) array_like
        Measured road speeds, m/s, and engine speeds, rev/min; NaN where there is none.
    time_s : (n,) array_like, optional
        Moment of each sample, s, ascending; without it the samples are readings that hang together in no way.
    gear : (n,) array_like, optional
        Gear of each as noted; NaN where none was.
    bike : Bike, optional
        The machine (`gearfit.read_bike`); without it ratios are known up to a common factor.
    setup : str, optional
        Name of one of its setups; its first where not given.

    Returns
    -------
    SetupResult
        `print(result.summary())` shows it.

    Raises
    ------
    ValueError
        The arrays differ in length, are not one-dimensional, or time runs backwards; or no such setup.
    LogError
        No sample has both speeds.
    """
    arrays = {"speed_mps": speed_mps, "engine_rpm": engine_rpm, "time_s": time_s, "stated_gear": gear}
    columns = {name: np.array(values, dtype=np.float64) for name, values in arrays.items() if values is not None}
    shapes = {values.shape for values in columns.values()}
    if len(shapes) != 1 or len(shapes.pop()) != 1:
        raise ValueError(f"{', '.join(columns)} need one dimension and one length")
    if time_s is not None and not (np.diff(columns["time_s"]) >= 0).all():
        raise ValueError("time_s is not ascending, or holds NaN")
    bike = bike or Bike()
    ride = RideSetup(_setup(bike, setup), (_recording(columns),))
    ladder = from_teeth(bike, ride.setup)
    return summarise(bike, ride, fit_setup(gather_setup(ride, ladder), ladder), ())


def _setup(bike: Bike, name: str | None) -> Setup:
    found = [each for each in bike.setups if name in (None, each.name)]
    if found or (name is None and not bike.setups):
        return found[0] if found else Setup("ride", bike.final_drive, bike.tyre)
    raise ValueError(f"setup is {name!r}; allowed are {', '.join(repr(each.name) for each in bike.setups)}")


def _recording(columns: dict[str, FloatArray]) -> Recording:
    """Make of arrays what a log would have given: a log with times, a sheet without."""
    steps = {name: written_step(columns[name][np.isfinite(columns[name])]) for name in ("speed_mps", "engine_rpm")}
    errors = {
        error: np.where(np.isfinite(columns[name]), step / np.sqrt(12.0), np.nan)
        for (name, step), error in zip(steps.items(), ("speed_sd_mps", "rpm_sd_rpm"), strict=True)
        if step is not None
    }
    timed = "time_s" in columns
    fresh = (
        {
            f: refreshed(columns[name], steps[name])
            for name, f in (("speed_mps", "speed_fresh"), ("engine_rpm", "rpm_fresh"))
        }
        if timed
        else {}
    )
    n = columns["speed_mps"].size
    return Recording(
        file=_NAME,
        kind="log" if timed else "samples",
        samples=sample_table(_NAME, n, **columns, **errors, **fresh),
        runs=run_table(_NAME, 0),
        clock="elapsed" if timed else "none",
        start_s=0.0 if timed else None,
        speed_source="wheel or logger",
        speed_step_mps=steps["speed_mps"],
        rpm_step_rpm=steps["engine_rpm"],
        columns=(),
        notes=(),
    )
