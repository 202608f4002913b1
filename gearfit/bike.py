"""The machine as specified: records only. `gearfit.bike_file` reads them from bike.toml."""

from __future__ import annotations

from dataclasses import dataclass, field

from gearfit.tyre import SIZE_CODE_RELATIVE_SD, nominal_circumference_m

#: Relative standard deviation of a stated rolling circumference where bike.toml gives none.
STATED_CIRCUMFERENCE_RELATIVE_SD = 0.005


@dataclass(frozen=True)
class Engine:
    """Engine as specified; None where not stated."""

    cylinders: int | None = None
    strokes: int | None = None
    limit_rpm: float | None = None


@dataclass(frozen=True)
class Gearbox:
    """Reductions (driven/driving teeth) of the primary drive and of each gear, first gear first."""

    primary: float | None = None
    gears: tuple[float, ...] | None = None


@dataclass(frozen=True)
class FinalDrive:
    """Final drive of one setup; None where not stated."""

    kind: str = "chain"
    front: int | None = None
    rear: int | None = None
    chain: str | None = None
    pitch_mm: float | None = None
    links: int | None = None
    slack_mm: tuple[float, float] | None = None
    adjuster_mm: tuple[float, float] | None = None
    axle_at_mm: float | None = None

    @property
    def reduction(self) -> float | None:
        """Rear teeth / front teeth, or None."""
        return self.rear / self.front if self.front and self.rear else None


@dataclass(frozen=True)
class Tyre:
    """Tyre of the driven wheel; None where not stated."""

    size: str | None = None
    rolling_circumference_mm: float | None = None
    rolling_circumference_sd_mm: float | None = None

    @property
    def nominal_circumference_m(self) -> float | None:
        """Rolling circumference in metres: as stated, else from the size code, else None."""
        if self.rolling_circumference_mm is not None:
            return self.rolling_circumference_mm / 1000
        return None if self.size is None else nominal_circumference_m(self.size)

    @property
    def nominal_circumference_sd_m(self) -> float | None:
        """Standard deviation in metres of `nominal_circumference_m`."""
        nominal_m = self.nominal_circumference_m
        if nominal_m is None:
            return None
        if self.rolling_circumference_mm is None:
            return SIZE_CODE_RELATIVE_SD * nominal_m
        if self.rolling_circumference_sd_mm is not None:
            return self.rolling_circumference_sd_mm / 1000
        return STATED_CIRCUMFERENCE_RELATIVE_SD * nominal_m


@dataclass(frozen=True)
class SpeedometerSpec:
    """Speedometer as specified."""

    driven_from: str = "unknown"
    regulation: str | None = None


@dataclass(frozen=True)
class Setup:
    """One setup: the name of its folder, its final drive and its tyre."""

    name: str
    final_drive: FinalDrive = field(default_factory=FinalDrive)
    tyre: Tyre = field(default_factory=Tyre)


@dataclass(frozen=True)
class Bike:
    """The machine.

    Attributes
    ----------
    total_kg : float or None
        Mass of machine, rider, load and fuel.
    setups : tuple of Setup
        Setups listed in bike.toml with their overrides applied, reference first; empty where it lists none.
    """

    name: str = ""
    engine: Engine = field(default_factory=Engine)
    gearbox: Gearbox = field(default_factory=Gearbox)
    final_drive: FinalDrive = field(default_factory=FinalDrive)
    tyre: Tyre = field(default_factory=Tyre)
    speedometer: SpeedometerSpec = field(default_factory=SpeedometerSpec)
    total_kg: float | None = None
    setups: tuple[Setup, ...] = ()

    def setup(self, name: str) -> Setup:
        """Return the setup called `name`; one not listed has the machine's own final drive and tyre."""
        for setup in self.setups:
            if setup.name == name:
                return setup
        return Setup(name, self.final_drive, self.tyre)

    def overall_ratios(self, setup: Setup) -> tuple[float, ...] | None:
        """Nominal overall ratios of a setup, first gear first: primary x gear x rear/front; None where unknown."""
        reduction = setup.final_drive.reduction
        if self.gearbox.primary is None or self.gearbox.gears is None or reduction is None:
            return None
        return tuple(self.gearbox.primary * gear * reduction for gear in self.gearbox.gears)
