"""`gearfit predict`: from a bike file, or from a ride folder whose fitted values then count."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

from gearfit.commands.stated import bike_as_stated, refuse_beside_a_file
from gearfit.errors import FolderError, InputError
from gearfit.machine.bike import Bike, FinalDrive, Setup, Tyre, Wish
from gearfit.machine.bike_file import read_bike
from gearfit.machine.bike_rules import OVERRIDES, RULES
from gearfit.prediction.basis import Gearing, on_paper, ridden
from gearfit.prediction.gearing import change_percent
from gearfit.prediction.stated import checked, read_hold, read_pair, read_speed, unit_written
from gearfit.prediction.swap import USUAL_RPM, SwapPrediction, predict, refitted
from gearfit.units import MPS_PER_KMH, to_mps
from gearfit.wording.prediction_json import prediction_json
from gearfit.wording.swap_brief import brief_lines
from gearfit.wording.swap_text import prediction_lines
from gearfit.wording.terminal import print_json

if TYPE_CHECKING:
    from gearfit.records.recording import RideFolder
    from gearfit.records.results import Analysis, SwapOnPaper
    from gearfit.timed.asked import Span

#: Road speeds of the table of engine speeds.
_CRUISES: Final = {"kmh": (50.0, 80.0, 100.0, 120.0), "mph": (30.0, 50.0, 60.0, 70.0)}
_BIKE_FILE: Final = "bike.toml"


def run(arguments: argparse.Namespace) -> int:
    """Print the prediction."""
    written = (arguments.known, *(arguments.cruise or ()), arguments.wish, *(arguments.span or ()))
    arguments.units = arguments.units or unit_written(written)
    spans = _spans(arguments.span or ())
    prediction = prediction_for(arguments)
    swap = swap_from_ride(arguments.bike, arguments.setup, prediction, spans)
    if swap is None and spans:
        raise InputError("--span", *_why_no_times(arguments, prediction))
    if arguments.json:
        print_json(prediction_json(prediction, swap))
    else:
        write = prediction_lines if arguments.everything else brief_lines
        print("\n".join(write(prediction, arguments.units, swap)))
    return 0


def prediction_for(arguments: argparse.Namespace) -> SwapPrediction:
    """Read what is given, check what is asked, and predict."""
    rpm = checked("--rpm", RULES["wish"]["at_rpm"], arguments.rpm)
    known = read_hold("--known", arguments.known, arguments.units)
    asked = tuple(read_speed("--cruise", text, arguments.units) for text in arguments.cruise or ())
    tyre = tyre_asked(arguments)
    bike, setup, now = basis(arguments, arguments.setup, tyre)
    after = after_swap(arguments, now, tyre, _next_setup(bike, setup))
    if asked and known is None and not now.gears:
        raise InputError(
            "--cruise",
            "no gear's speed is known from teeth alone",
            'Add one pair of speeds that you know, as --known "5300 rpm at 70 mph"',
        )
    usual = () if known is not None else tuple(to_mps(speed, arguments.units) for speed in _CRUISES[arguments.units])
    return predict(
        replace(bike, wish=_wish(arguments, bike, setup)),
        now,
        after,
        reference_rpm=USUAL_RPM if rpm is None else rpm,
        cruise_mps=asked or usual,
        known=known,
    )


def basis(arguments: argparse.Namespace, name: str | None, tyre: Tyre) -> tuple[Bike, Setup, Gearing]:
    """Read the machine, the setup that is on it, and its gearing: from the ride where there is one, else on paper.

    Where no tyre is stated, `tyre` is taken to be on already.
    """
    path: Path | None = arguments.bike
    if path is None:
        bike = bike_as_stated(arguments)
        return bike, (setup := bike.setup("")), on_paper(bike, _with_tyre(setup, tyre), "the options")
    refuse_beside_a_file(arguments, str(path))
    if not path.is_dir():
        return _stated_basis(path, name, tyre)
    try:
        return _ridden_basis(path, name)
    except FolderError:
        if not (path / _BIKE_FILE).is_file():
            raise
        return _stated_basis(path / _BIKE_FILE, name, tyre)


def _stated_basis(path: Path, name: str | None, tyre: Tyre) -> tuple[Bike, Setup, Gearing]:
    bike = read_bike(path)
    setup = _setup(bike, name, tuple(setup.name for setup in bike.setups), path.name)
    return bike, setup, on_paper(bike, _with_tyre(setup, tyre), path.name)


@cache
def _analysed(path: Path) -> tuple[RideFolder, Analysis]:
    from gearfit.findings.analysis import analyse
    from gearfit.importers import read_folder

    folder = read_folder(path)
    return folder, analyse(folder)


def _spans(written: Sequence[str]) -> tuple[Span, ...]:
    if not written:
        return ()
    from gearfit.timed.asked import each_once, read_span

    return each_once(map(read_span, written))


def _why_no_times(arguments: argparse.Namespace, prediction: SwapPrediction) -> tuple[str, str]:
    """Say what keeps times from being predicted, and what to do."""
    if arguments.bike is None or not arguments.bike.is_dir():
        found = f'found "{arguments.span[0]}" for a bike file'
        return (f"{found}; allowed with a ride folder only", "Give the ride folder")
    if prediction.after is None or prediction.change_percent is None:
        return ("no change is stated, so no time changes", "Give --front, --rear or --tyre")
    return (
        "the ride does not show full throttle from first gear up to near the stated limit_rpm, again and again, with "
        "engine speed at least 5 times a second, to predict times",
        "State limit_rpm and ride at full throttle on a closed road or track, or leave the option out",
    )


def swap_from_ride(
    path: Path | None, name: str | None, prediction: SwapPrediction, spans: Sequence[Span] = ()
) -> SwapOnPaper | None:
    """Predict the times of the spans, else of the usual ones, after the swap from the ride.

    None without a ride, full throttle in it, or a change.
    """
    if path is None or not path.is_dir() or prediction.after is None or prediction.change_percent is None:
        return None
    try:
        folder, analysis = _analysed(path)
    except FolderError:
        return None
    from gearfit.thrust.paper import USUAL_SPANS, swap_on_paper
    from gearfit.thrust.swap import Asked

    setup = _setup(analysis.bike, name, tuple(result.setup.name for result in analysis.setups), str(path))
    place = [result.setup.name for result in analysis.setups].index(setup.name)
    factor = 1 + prediction.change_percent / 100
    asked = [Asked(span.from_mps, span.to_mps) for span in spans] or USUAL_SPANS
    return swap_on_paper(analysis.bike, folder.setups[place], analysis.setups[place], "after", factor, asked)


def _ridden_basis(path: Path, name: str | None) -> tuple[Bike, Setup, Gearing]:
    _, analysis = _analysed(path)
    results = {result.setup.name: result for result in analysis.setups}
    setup = _setup(analysis.bike, name, tuple(results), str(path))
    now = ridden(analysis.bike, results[setup.name])
    return analysis.bike, setup, now or on_paper(analysis.bike, setup, f"{path}, {_BIKE_FILE}")


def _setup(bike: Bike, name: str | None, known: tuple[str, ...], where: str) -> Setup:
    if name is not None and name not in known:
        raise InputError(
            "--setup", f"found {name!r}; allowed are the setups of {where}: {', '.join(known) or 'none'}", "Correct it"
        )
    return bike.setup(name if name is not None else known[0] if known else "")


def _with_tyre(setup: Setup, tyre: Tyre) -> Setup:
    return setup if setup.tyre.nominal_circumference_m is not None or tyre == Tyre() else replace(setup, tyre=tyre)


def tyre_asked(arguments: argparse.Namespace) -> Tyre:
    """Return the tyre that the options state, checked."""
    size = checked("--tyre", OVERRIDES["size"], arguments.tyre)
    circumference_mm = checked("--circumference", OVERRIDES["rolling_circumference_mm"], arguments.circumference)
    return Tyre(size=size, rolling_circumference_mm=circumference_mm)


def after_swap(arguments: argparse.Namespace, now: Gearing, tyre: Tyre, other: Setup | None) -> Gearing | None:
    """Return the gearing after the swap, as asked, else of the `other` setup; None where nothing changes."""
    front, rear = read_pair("--to", arguments.to_pair)
    front = front or checked("--front", OVERRIDES["front"], arguments.front)
    rear = rear or checked("--rear", OVERRIDES["rear"], arguments.rear)
    if front is None and rear is None and tyre == Tyre():
        drive, fitted = (other.final_drive, other.tyre) if other is not None else (now.final_drive, now.tyre)
    else:
        drive = replace(now.final_drive, front=front or now.final_drive.front, rear=rear or now.final_drive.rear)
        fitted = now.tyre if tyre == Tyre() else tyre
    _refuse_upside_down(drive)
    return None if (drive, fitted) == (now.final_drive, now.tyre) else refitted(now, drive, fitted)


def _next_setup(bike: Bike, setup: Setup) -> Setup | None:
    names = [listed.name for listed in bike.setups]
    place = names.index(setup.name) + 1 if setup.name in names else len(names)
    return bike.setups[place] if place < len(names) else None


def _refuse_upside_down(drive: FinalDrive) -> None:
    if drive.front is not None and drive.rear is not None and drive.rear < drive.front:
        raise InputError(
            "--front, --rear",
            f"found {drive.front}/{drive.rear}; allowed is a wheel sprocket (rear) with at least as many teeth as the "
            "gearbox sprocket (front)",
            "Correct them",
        )


def _wish(arguments: argparse.Namespace, bike: Bike, setup: Setup) -> Wish:
    """Return the wish as asked, else that of the bike file, against what is on now."""
    change = checked("--change", RULES["wish"]["change_percent"], arguments.change)
    hold = read_hold("--wish", arguments.wish, arguments.units)
    asked = Wish(change) if hold is None else Wish(change, hold.speed_mps / MPS_PER_KMH, hold.rpm)
    if asked.stated or not bike.setups or bike.wish.change_percent is None:
        return asked if asked.stated else bike.wish
    moved = change_percent(bike.setups[0], setup) or 0.0
    return replace(bike.wish, change_percent=100 * ((100 + bike.wish.change_percent) / (100 + moved) - 1))
