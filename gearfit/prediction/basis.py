"""What the gearing of a setup is known from: tooth counts and tyre on paper, or a ride that was fitted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from gearfit.errors import InputError
from gearfit.machine.bike import Bike, FinalDrive, Setup, Tyre
from gearfit.prediction.gearing import speed_per_1000rpm_mps

if TYPE_CHECKING:
    from gearfit.records.results import SetupResult

#: Where the road speed of a gear comes from.
FROM_TEETH: Final = "tooth counts and tyre"
FROM_RIDE: Final = "ride"


@dataclass(frozen=True)
class Gearing:
    """Road speed for engine speed in each gear of one setup.

    Attributes
    ----------
    final_drive, tyre : FinalDrive, Tyre
        As stated for the setup.
    gears : tuple of int
        Gear numbers, ascending; empty where no speed is known and the teeth alone tell the change.
    speed_per_1000rpm_mps : tuple of float
        Road speed at 1000 rev/min in each gear.
    relative_sd : float
        Relative standard error of these speeds, common to all gears; 0 without gears.
    known_from : tuple of str
        `FROM_TEETH` or `FROM_RIDE` for each gear.
    overall_ratios : tuple of float or None
        Engine turns per wheel turn; None where the tooth counts are not all stated.
    circumference_m : float or None
        Rolling circumference; None where it is not known.
    circumference_from : str
        In plain words, where the circumference comes from.
    speed_source : str
        As `SetupResult.speed_source`; "none" on paper.
    """

    final_drive: FinalDrive
    tyre: Tyre
    gears: tuple[int, ...]
    speed_per_1000rpm_mps: tuple[float, ...]
    relative_sd: float
    known_from: tuple[str, ...]
    overall_ratios: tuple[float, ...] | None
    circumference_m: float | None
    circumference_from: str
    speed_source: str

    @property
    def pair(self) -> tuple[int, int] | None:
        """Teeth (front, rear), or None where one is not stated."""
        front, rear = self.final_drive.front, self.final_drive.rear
        return (front, rear) if front and rear else None


def tyre_words(tyre: Tyre) -> str:
    """Say where the circumference of a tyre as stated comes from."""
    if tyre.rolling_circumference_mm is not None:
        return "as stated"
    return f"from the size {tyre.size}, the middle of what such a tyre can roll"


def on_paper(bike: Bike, setup: Setup, where: str) -> Gearing:
    """Return the gearing that tooth counts and tyre lead one to expect, without gears where these tell no speeds.

    Parameters
    ----------
    bike : Bike
        The machine.
    setup : Setup
        What is fitted.
    where : str
        File that states it, for the message.

    Raises
    ------
    InputError
        The sprockets are not stated, the least that a prediction needs; the message names all that is missing.
    """
    ratios = bike.overall_ratios(setup)
    circumference_m, sd_m = setup.tyre.nominal_circumference_m, setup.tyre.nominal_circumference_sd_m
    if setup.final_drive.reduction is None:
        raise speeds_unknown(bike, setup, where)
    if ratios is None or circumference_m is None or sd_m is None:
        return Gearing(setup.final_drive, setup.tyre, (), (), 0.0, (), None, circumference_m, "", "none")
    return Gearing(
        final_drive=setup.final_drive,
        tyre=setup.tyre,
        gears=tuple(range(1, len(ratios) + 1)),
        speed_per_1000rpm_mps=tuple(speed_per_1000rpm_mps(circumference_m, ratio) for ratio in ratios),
        relative_sd=sd_m / circumference_m,
        known_from=(FROM_TEETH,) * len(ratios),
        overall_ratios=ratios,
        circumference_m=circumference_m,
        circumference_from=tyre_words(setup.tyre),
        speed_source="none",
    )


def speeds_unknown(bike: Bike, setup: Setup, where: str) -> InputError:
    """Return the error that names what is missing for speeds."""
    return InputError(
        where,
        f"found no {' and no '.join(_lacking(bike, setup))}; speeds need primary drive, gears, sprockets and tyre",
        "State them (teeth are counted on the sprockets themselves, not taken from the papers of a used bike), or "
        "give the folder of a ride, from which they are found",
    )


def _lacking(bike: Bike, setup: Setup) -> list[str]:
    stated = {
        "[gearbox] primary": bike.gearbox.primary,
        "[gearbox] gears": bike.gearbox.gears,
        "[final_drive] front": setup.final_drive.front,
        "[final_drive] rear": setup.final_drive.rear,
        "[tyre] size": setup.tyre.nominal_circumference_m,
    }
    return [name for name, value in stated.items() if value is None]


def ridden(bike: Bike, result: SetupResult) -> Gearing | None:
    """Return the gearing that a ride has shown; None where it showed no gear.

    Gears that were not ridden are filled in from their tooth counts and the fitted circumference, where both are there.
    """
    if not result.gears:
        return None
    ratios = bike.overall_ratios(result.setup)
    fitted = result.circumference
    shown = {gear.gear: gear.speed_per_1000rpm_mps for gear in result.gears}
    speeds = {gear: (estimate.value, FROM_RIDE) for gear, estimate in shown.items()}
    if ratios is not None and fitted is not None:
        for gear, ratio in enumerate(ratios, start=1):
            filled = float(speed_per_1000rpm_mps(fitted.estimate_m.value, ratio))
            speeds.setdefault(gear, (filled, FROM_TEETH))
    gears = tuple(sorted(speeds))
    circumference_m = fitted.estimate_m.value if fitted is not None else result.setup.tyre.nominal_circumference_m
    return Gearing(
        final_drive=result.setup.final_drive,
        tyre=result.setup.tyre,
        gears=gears,
        speed_per_1000rpm_mps=tuple(speeds[gear][0] for gear in gears),
        relative_sd=max(estimate.se / estimate.value for estimate in shown.values()),
        known_from=tuple(speeds[gear][1] for gear in gears),
        overall_ratios=_ratios(gears, ratios),
        circumference_m=circumference_m,
        circumference_from=_circumference_words(result),
        speed_source=result.speed_source,
    )


def _ratios(gears: tuple[int, ...], ratios: tuple[float, ...] | None) -> tuple[float, ...] | None:
    if ratios is None or max(gears) > len(ratios):
        return None
    return tuple(ratios[gear - 1] for gear in gears)


def _circumference_words(result: SetupResult) -> str:
    if result.circumference is not None:
        return f"fitted to the ride {result.setup.name}"
    if result.setup.tyre.nominal_circumference_m is None:
        return "not known"
    return tyre_words(result.setup.tyre)
