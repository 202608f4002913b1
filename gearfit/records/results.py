"""The records that an analysis consists of. Frozen and complete; `None` means: the data cannot say.

SI units, the unit in every name. The layout follows the results file (`results.json`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from gearfit.machine.bike import Bike, Setup
from gearfit.records.estimate import Estimate as Estimate
from gearfit.records.result_frames import AnalysisFrames, ComparisonFrames, SetupFrames
from gearfit.records.span_results import How as How
from gearfit.records.span_results import LeftOutRun as LeftOutRun
from gearfit.records.span_results import MeanCourse as MeanCourse
from gearfit.records.span_results import RunTrace as RunTrace
from gearfit.records.span_results import Shift as Shift
from gearfit.records.span_results import SpanComparison as SpanComparison
from gearfit.records.span_results import SpanSummary as SpanSummary
from gearfit.records.span_results import TimedSpan as TimedSpan
from gearfit.records.speedometer_results import CardLine as CardLine
from gearfit.records.speedometer_results import Correction as Correction
from gearfit.records.speedometer_results import Speedometer as Speedometer
from gearfit.records.speedometer_results import SpeedometerPoint as SpeedometerPoint
from gearfit.records.thrust_results import HardestRiding as HardestRiding
from gearfit.records.thrust_results import SwapOnPaper as SwapOnPaper
from gearfit.records.track_results import Track as Track

if TYPE_CHECKING:
    import pandas as pd

    from gearfit.records.recording import SoundPicture


@dataclass(frozen=True)
class Finding:
    """One sentence or two in plain words for the top of the report.

    Attributes
    ----------
    severity : {"note", "warning"}
        A warning asks the rider to do or doubt something.
    code : str
        Stable short name, for programs.
    text : str
        The words. Speeds are written in the unit that the analysis was asked for.
    about : str
        Name of the setup that it speaks about; empty where of none in particular.
    outcome : str
        Which of several outcomes it tells, where one code has several.
    """

    severity: Literal["note", "warning"]
    code: str
    text: str
    about: str = ""
    outcome: str = ""


@dataclass(frozen=True)
class GearResult:
    """One gear of one setup.

    Attributes
    ----------
    gear : int
        1 = first. Without a known ladder gears are numbered in descending order of engine speed per
        road speed (UN GTR 15 Annex 2 para 2(d)), beginning at 1.
    samples, passages : int
        In-gear samples, and the stretches of riding (or sheet rows) that they form.
    speed_per_1000rpm_mps : Estimate
        Road speed at 1000 rev/min; from the samples alone.
    overall_ratio : Estimate or None
        Engine turns per wheel turn; needs a rolling circumference from outside (None without).
    nominal_overall_ratio : float or None
        From the tooth counts; None where bike.toml has none.
    deviation_percent : Estimate or None
        How far this gear's ratio is from the tooth counts once the one circumference that suits the other
        gears best is taken out; None without tooth counts or with fewer than two gears.
    consistent : bool or None
        Whether that deviation is within what the data allow, family-wise over the gears at 99 %.
    """

    gear: int
    samples: int
    passages: int
    speed_per_1000rpm_mps: Estimate
    overall_ratio: Estimate | None
    nominal_overall_ratio: float | None
    deviation_percent: Estimate | None
    consistent: bool | None


@dataclass(frozen=True)
class Circumference:
    """Effective rolling circumference of the driven tyre.

    Attributes
    ----------
    estimate_m : Estimate
        From the samples and the tooth counts.
    nominal_m : float or None
        From the tyre size or as stated in bike.toml.
    rests_on : str
        In plain words, on what the number rests.
    """

    estimate_m: Estimate
    nominal_m: float | None
    rests_on: str


@dataclass(frozen=True)
class OutlyingRow:
    """A row of a hand-entered sheet that does not agree with the rest.

    `z` is the distance in standard errors; `expected_mps` the speed that the other readings lead one to expect.
    """

    file: str
    row: int
    gear: int
    engine_rpm: float
    speed_mps: float
    expected_mps: float
    z: float


@dataclass(frozen=True)
class ChannelNoise:
    """What the samples in gear show of the noise of one timed log.

    Attributes
    ----------
    file : str
        File of the speeds.
    speed_white_mps : float
        Standard deviation of the speed's error from sample to sample, resolution included.
    speed_correlated_mps, correlation_s : float
        Standard deviation and correlation time of the part of it that stays for a while.
    engine_relative : float
        Standard deviation of the engine speed's error as a share of the reading.
    speed_interval_s, engine_interval_s : float
        Usual time between measured values of each channel.
    speed_step_mps : float or None
        Step in which the speeds were written.
    speed_raised_mps : float
        What was added to the speeds because they were cut down to the step below.
    """

    file: str
    speed_white_mps: float
    speed_correlated_mps: float
    correlation_s: float
    engine_relative: float
    speed_interval_s: float
    engine_interval_s: float
    speed_step_mps: float | None
    speed_raised_mps: float


@dataclass(frozen=True, eq=False, repr=False)
class SetupResult(SetupFrames):
    """Everything found out about one setup.

    Attributes
    ----------
    setup : Setup
        The machine as stated for this setup.
    samples : pandas.DataFrame
        Every sample read, in order: file, row, time_s, speed_mps, engine_rpm (at the moment of the speed, as the
        fit used it), gear (nullable Int64), left_out (text, empty where in gear), ln_ratio (ln of rev/min per m/s).
    left_out : mapping of str to int
        Count of samples by reason.
    speed_source : str
        "receiver", "position", "wheel or logger", "machine", "speedometer", "hand" or "mixed": where the
        speeds come from.
    ladder : str
        How the gears were found: "tooth counts", "from the samples" or "none".
    gears : tuple of GearResult
        Empty where no gears could be found.
    lag_s : Estimate or None
        How far the engine-speed channel leads (+) the speed channel; None for sheets.
    sounds : tuple of SoundPicture
        How the sound recordings look.
    noise : tuple of ChannelNoise
        Of each timed log with samples in gear.
    left_out_runs : tuple of LeftOutRun
        Runs that were found in the rides and do not count, each with the reason.
    tracks : tuple of Track
        Where it was ridden; empty where no positions were recorded.
    ridden_unix_s : float or None
        When its first recording with a date began; None without one.
    gears_by_starts : bool
        Whether the gears were found in hard starts alone, by lag and ladder together.
    """

    setup: Setup
    samples: pd.DataFrame
    left_out: Mapping[str, int]
    speed_source: str
    ladder: str
    gears: tuple[GearResult, ...]
    circumference: Circumference | None
    lag_s: Estimate | None
    speedometer: Speedometer | None
    timed_spans: tuple[TimedSpan, ...]
    outlying_rows: tuple[OutlyingRow, ...]
    sounds: tuple[SoundPicture, ...] = ()
    noise: tuple[ChannelNoise, ...] = ()
    left_out_runs: tuple[LeftOutRun, ...] = ()
    tracks: tuple[Track, ...] = ()
    ridden_unix_s: float | None = None
    gears_by_starts: bool = False


@dataclass(frozen=True)
class GearChange:
    """One gear, other setup against reference: change of road speed at the same engine speed."""

    gear: int
    change_percent: Estimate
    predicted_percent: float | None
    consistent: bool | None


@dataclass(frozen=True)
class SprocketPair:
    """A tooth pair that could be fitted in the other setup, and how likely it is at least, given what was measured.

    At least: `probability` is the smaller of two, one that believes the teeth stated for the other setup (95 %) and one
    that does not (50 %). A pair that is likely for being stated is no finding.
    `predicted_change_percent` is against the pair of the reference that goes with it best, mostly the stated one.
    """

    front: int
    rear: int
    predicted_change_percent: float
    probability: float


@dataclass(frozen=True)
class FittedPairs:
    """Tooth pairs (front, rear) of both setups together, with their probability given what was measured."""

    reference: tuple[int, int]
    other: tuple[int, int]
    probability: float


@dataclass(frozen=True)
class SprocketCheck:
    """What change and levels of two rides say about the sprockets.

    Attributes
    ----------
    candidates : tuple of SprocketPair
        Pairs of the other setup, most likely first; empty where no pair explains the change.
    pairs : tuple of FittedPairs
        Pairs of both setups together, most likely first; empty likewise.
    stated_probability : float or None
        That both setups have the teeth stated; None where the other setup states none.
    another_tyre_probability : float
        That the tyre changed between the rides without a word (another of the same size, or wear).
    exchanged_probability : float
        That each setup has the teeth stated for the other.
    no_pair_probability : float
        That neither teeth nor tyre explain the change.
    """

    candidates: tuple[SprocketPair, ...]
    pairs: tuple[FittedPairs, ...]
    stated_probability: float | None
    another_tyre_probability: float
    exchanged_probability: float
    no_pair_probability: float


@dataclass(frozen=True, repr=False)
class Comparison(ComparisonFrames):
    """Two setups side by side; `predicted_change_percent` is None where the tooth counts are not known.

    `swap` is what the reference's ride alone leads one to expect; None where it shows no full throttle:
    `hardest` is then the hardest riding in it, where there was some.
    `sprocket_check` is None where the sprockets of the reference are not stated or the change cannot show them.
    """

    reference: str
    other: str
    predicted_change_percent: float | None
    gears: tuple[GearChange, ...]
    all_gears_change_percent: Estimate | None
    sprocket_candidates: tuple[SprocketPair, ...]
    timed_spans: tuple[SpanComparison, ...]
    swap: SwapOnPaper | None = None
    sprocket_check: SprocketCheck | None = None
    hardest: HardestRiding | None = None


@dataclass(frozen=True, eq=False, repr=False)
class Analysis(AnalysisFrames):
    """The whole result for one ride folder.

    Attributes
    ----------
    speed_unit : {"kmh", "mph"}
        The unit in which findings, report and picture speak.
    setups : tuple of SetupResult
        Reference first.
    comparisons : tuple of Comparison
        Each later setup against the first; empty with one setup.
    findings : tuple of Finding
        In the order in which a person should read them.
    restated : Analysis or None
        The same in the other unit of speed, with as many findings in the same order; None where not asked for.
    """

    bike: Bike
    speed_unit: str
    setups: tuple[SetupResult, ...]
    comparisons: tuple[Comparison, ...]
    findings: tuple[Finding, ...]
    restated: Analysis | None = None

    def __getitem__(self, name: str) -> SetupResult:
        """Return the result of a setup by its name.

        Raises
        ------
        KeyError
            There is none of that name; it says which there are.
        """
        named = {part.setup.name: part for part in self.setups}
        if name not in named:
            raise KeyError(f"no setup {name!r}; there are {', '.join(map(repr, named))}")
        return named[name]
