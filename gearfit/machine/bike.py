"""The machine as specified: records only. `gearfit.machine.bike_file` reads them from bike.toml."""

from __future__ import annotations

from dataclasses import dataclass, field

from gearfit.brief import Brief
from gearfit.machine.tyre import SIZE_CODE_RELATIVE_SD, nominal_circumference_m
from gearfit.units import MPS_PER_KMH, MPS_PER_MPH

#: Relative standard deviation of a stated rolling circumference where bike.toml gives none.
STATED_CIRCUMFERENCE_RELATIVE_SD = 0.005


@dataclass(frozen=True)
class Engine:
    """Engine as specified; None where not stated.

    `torque_nm` is its highest torque at the crankshaft, `firing` the crank angles in degrees from each firing to the
    next over one working cycle.
    """

    cylinders: int | None = None
    strokes: int | None = None
    limit_rpm: float | None = None
    torque_nm: float | None = None
    firing: tuple[float, ...] | None = None

    @property
    def cycle_degrees(self) -> float:
        """Crank angle of one working cycle: 360 for two strokes, else 720."""
        return 360.0 if self.strokes == 2 else 720.0


@dataclass(frozen=True)
class ColumnNames:
    """Headers of the rider's logs in words of their own, and units that those headers do not state; None: not given.

    `obd` is a column of raw OBD-II answers in hexadecimal; the others are named for what they hold.
    """

    time: str | None = None
    date: str | None = None
    speed: str | None = None
    indicated: str | None = None
    rpm: str | None = None
    gear: str | None = None
    latitude: str | None = None
    longitude: str | None = None
    elevation: str | None = None
    obd: str | None = None
    time_unit: str | None = None
    speed_unit: str | None = None
    indicated_unit: str | None = None
    elevation_unit: str | None = None


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
    """Speedometer as specified.

    Attributes
    ----------
    driven_from : str
        "front wheel", "rear wheel", "gearbox output" or "unknown".
    regulation : str or None
        Rule to check it against; None where none is asked for.
    indicated_step_kmh, indicated_step_mph : float or None
        Step of the dash, or to which its needle is read, in one of the units; None where not stated.
    """

    driven_from: str = "unknown"
    regulation: str | None = None
    indicated_step_kmh: float | None = None
    indicated_step_mph: float | None = None

    @property
    def indicated_step_mps(self) -> float | None:
        """Step of the dash as stated, in m/s; None where not stated."""
        if self.indicated_step_kmh is not None:
            return self.indicated_step_kmh * MPS_PER_KMH
        return None if self.indicated_step_mph is None else self.indicated_step_mph * MPS_PER_MPH

    @property
    def at_wheel(self) -> bool:
        """Whether it is stated to be driven from a wheel, so that it sees the final drive."""
        return self.driven_from.endswith("wheel")


@dataclass(frozen=True)
class Balance:
    """Where the mass sits, rider up; None where not stated.

    Attributes
    ----------
    wheelbase_mm : float or None
        Between the two wheel axles.
    cg_height_mm : float or None
        Height of the centre of gravity above the ground.
    cg_to_rear_mm : float or None
        Level distance from the centre of gravity back to the rear axle.
    """

    wheelbase_mm: float | None = None
    cg_height_mm: float | None = None
    cg_to_rear_mm: float | None = None


@dataclass(frozen=True)
class Motion:
    """What moves with the machine or holds it back, for times on paper; None where not stated.

    Attributes
    ----------
    drag_area_m2 : float or None
        Drag coefficient times frontal area, rider up.
    rolling_coefficient : float or None
        Rolling resistance over weight.
    rotating_kg : float or None
        Both wheels with what turns along, as a mass at the tread: moment of inertia over rolling radius squared.
    tyre_grip : float or None
        Highest thrust over load of the driven tyre.
    """

    drag_area_m2: float | None = None
    rolling_coefficient: float | None = None
    rotating_kg: float | None = None
    tyre_grip: float | None = None


@dataclass(frozen=True)
class Wish:
    """What the rider wants of the gearing: a change of road speed at the same engine speed, or a cruise in top gear.

    Attributes
    ----------
    change_percent : float or None
        Against the first setup; negative = shorter gearing.
    cruise_kmh, at_rpm : float or None
        Both or neither: this road speed at this engine speed in top gear.
    """

    change_percent: float | None = None
    cruise_kmh: float | None = None
    at_rpm: float | None = None

    @property
    def stated(self) -> bool:
        """Whether anything is wished for."""
        return self.change_percent is not None or self.cruise_kmh is not None


@dataclass(frozen=True)
class Conditions:
    """State of the air during a ride; None where not stated.

    Attributes
    ----------
    temperature_c : float or None
        Of the air.
    pressure_hpa : float or None
        At the place, not reduced to sea level.
    altitude_m : float or None
        Of the place above sea level; counts where no pressure is stated.
    correction : {"ISO 1585", "SAE J1349"} or None
        To which reference state times are referred, beside the times as ridden.
    """

    temperature_c: float | None = None
    pressure_hpa: float | None = None
    altitude_m: float | None = None
    correction: str | None = None


@dataclass(frozen=True)
class Setup:
    """One setup: the name of its folder, its final drive, its tyre, the air on its ride.

    `same_clock` says that recorders which count seconds from a start of their own were started together.
    """

    name: str
    final_drive: FinalDrive = field(default_factory=FinalDrive)
    tyre: Tyre = field(default_factory=Tyre)
    conditions: Conditions = field(default_factory=Conditions)
    same_clock: bool = False


@dataclass(frozen=True, repr=False)
class Bike(Brief):
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
    columns: ColumnNames = field(default_factory=ColumnNames)
    total_kg: float | None = None
    setups: tuple[Setup, ...] = ()
    balance: Balance = field(default_factory=Balance)
    wish: Wish = field(default_factory=Wish)
    conditions: Conditions = field(default_factory=Conditions)
    motion: Motion = field(default_factory=Motion)
    same_clock: bool = False

    def setup(self, name: str) -> Setup:
        """Return the setup called `name`; one not listed has the machine's own final drive and tyre."""
        for setup in self.setups:
            if setup.name == name:
                return setup
        return Setup(name, self.final_drive, self.tyre, self.conditions, self.same_clock)

    def overall_ratios(self, setup: Setup) -> tuple[float, ...] | None:
        """Nominal overall ratios of a setup, first gear first: primary x gear x rear/front; None where unknown."""
        reduction = setup.final_drive.reduction
        if self.gearbox.primary is None or self.gearbox.gears is None or reduction is None:
            return None
        return tuple(self.gearbox.primary * gear * reduction for gear in self.gearbox.gears)
