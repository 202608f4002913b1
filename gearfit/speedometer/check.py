"""The check of one setup's speedometer, from its recordings to its record."""

from __future__ import annotations

from gearfit.fitting.gathering.streams import gather
from gearfit.fitting.setup_fit import SetupFit, fit_setup
from gearfit.fitting.setup_summary import files_used, speed_source
from gearfit.fitting.which_gear.ladder import from_teeth
from gearfit.machine.bike import Bike
from gearfit.records.recording import INSTRUMENTS, RideSetup
from gearfit.records.results import Speedometer
from gearfit.speedometer.gather import gather_pairs
from gearfit.speedometer.judge import judge
from gearfit.speedometer.rules import Rule


def check_setup(bike: Bike, ride: RideSetup, fit: SetupFit | None, rule: Rule, unit: str) -> Speedometer | str | None:
    """Check the speedometer of a setup.

    Parameters
    ----------
    bike, ride : Bike, RideSetup
        The machine and what was recorded.
    fit : SetupFit or None
        Its fit, for sheets of shown speeds at held engine speeds.
    rule : Rule
        What is allowed.
    unit : {"kmh", "mph"}
        Unit of dash card and words.

    Returns
    -------
    Speedometer, str or None
        The record; or why there is none; None where nothing shown was recorded.
    """
    measured = fit is not None and speed_source(ride, files_used(fit)) not in INSTRUMENTS
    levels = fit.levels if fit is not None and measured else None
    logged = fit is not None and fit.timed is not None and fit.timed.levels is not None
    gathered = gather_pairs(bike, ride.setup, ride.recordings, levels, logged)
    return None if gathered is None else judge(gathered, rule, unit)


def fit_where_possible(bike: Bike, ride: RideSetup) -> SetupFit | None:
    """Fit the gearing of a setup, or return None where its recordings hold no pair of road and engine speed."""
    ladder = from_teeth(bike, ride.setup)
    material = gather(ride.recordings, same_clock=ride.setup.same_clock, ladder=ladder)
    if not material.streams and material.sheet.rows.size == 0:
        return None
    return fit_setup(material, ladder)
