"""What every result can do: give itself as tables, and show itself in a notebook."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any, Final, get_args, get_type_hints

from gearfit.brief import Brief
from gearfit.machine.bike import Bike, Setup
from gearfit.records import html_table, words
from gearfit.records.estimate import Estimate
from gearfit.records.span_results import Shift
from gearfit.records.speedometer_results import Speedometer, SpeedometerPoint
from gearfit.records.tidy import Row, tidy_frame

if TYPE_CHECKING:
    import pandas as pd


#: Which run a change of gear belongs to.
_OF_RUN: Final = ("setup", "source", "from_mps", "to_mps", "start_s")


class SetupFrames(Brief):
    """Tables of one setup."""

    setup: Setup
    gears: tuple[Any, ...]
    timed_spans: tuple[Any, ...]
    left_out_runs: tuple[Any, ...]
    speedometer: Speedometer | None
    samples: pd.DataFrame
    ladder: str
    circumference: Any
    lag_s: Estimate | None
    left_out: Mapping[str, int]

    @property
    def in_gear(self) -> int:
        """Number of samples that were given a gear."""
        return sum(gear.samples for gear in self.gears)

    def summary(self) -> str:
        """Return gears, circumference, lag and what was excluded, a line each, as a person reads them."""
        samples = words.count(len(self.samples), "sample")
        if self.gears:
            known = "" if self.ladder == "from the samples" else f", known from the {self.ladder}"
            found = f"{words.count(len(self.gears), 'gear')}{known}; {self.in_gear} of {samples} in gear"
        else:
            found = f"no gears found in {samples}"
        lines = [f"{words.setup_label(self.setup)}: {found}", *map(_gear_line, self.gears)]
        if self.circumference is not None:
            lines.append(f"Rolling circumference: {words.value_and_interval(self.circumference.estimate_m, 'm')}")
        if self.lag_s is not None:
            lines.append(f"Engine speed leads road speed by {words.value_and_interval(self.lag_s, 's', signed=True)}")
        excluded = "; ".join(f"{n} {reason}" for reason, n in self.left_out.items())
        return "\n".join([*lines, f"Excluded: {excluded}"] if excluded else lines)

    def gears_frame(self) -> pd.DataFrame:
        """Return one row a gear: setup, then the fields of `GearResult`."""
        return tidy_frame(_kind(self, "gears"), self._rows("gears"), ["setup"])

    def runs_frame(self) -> pd.DataFrame:
        """Return one row a timed run: setup, then the fields of `TimedSpan`."""
        return tidy_frame(_kind(self, "timed_spans"), self._rows("timed_spans"), ["setup"])

    def left_out_runs_frame(self) -> pd.DataFrame:
        """Return one row a run that does not count: setup, then the fields of `LeftOutRun`."""
        return tidy_frame(_kind(self, "left_out_runs"), self._rows("left_out_runs"), ["setup"])

    def shifts_frame(self) -> pd.DataFrame:
        """Return one row a change of gear in a timed run: setup and run, then the fields of `Shift`."""
        return tidy_frame(Shift, self._shifts(), _OF_RUN)

    def speedometer_frame(self) -> pd.DataFrame:
        """Return one row a test speed: setup, then the fields of `SpeedometerPoint`; no rows without readings."""
        points = () if self.speedometer is None else self.speedometer.at
        return tidy_frame(SpeedometerPoint, (({"setup": self.setup.name}, point) for point in points), ["setup"])

    def _rows(self, field: str) -> Iterator[Row]:
        yield from (({"setup": self.setup.name}, record) for record in getattr(self, field))

    def _shifts(self) -> Iterator[Row]:
        for run in self.timed_spans:
            of = (self.setup.name, run.source, run.from_mps, run.to_mps, run.start_s)
            yield from ((dict(zip(_OF_RUN, of, strict=True)), shift) for shift in run.shifts)

    def _repr_html_(self) -> str:
        rows = [
            (
                gear.gear,
                gear.samples,
                html_table.estimate_text(gear.speed_per_1000rpm_mps.scaled(3.6), 3),
                html_table.estimate_text(gear.overall_ratio, 3),
                html_table.estimate_text(gear.deviation_percent, 2),
            )
            for gear in self.gears
        ]
        head = ("Gear", "Samples", "km/h per 1000 rpm", "Overall ratio", "Deviation [%]")
        return html_table.table(f"Gears, {self.setup.name}", head, rows)


def _gear_line(gear: Any) -> str:  # noqa: ANN401 - a GearResult, whose module imports this one
    said = f"  {words.ordinal(gear.gear)} gear: "
    said += f"{words.value_and_interval(gear.speed_per_1000rpm_mps.scaled(3.6), 'km/h')} at 1000 rpm"
    if gear.overall_ratio is not None:
        said += f", overall ratio {words.value_and_interval(gear.overall_ratio)}"
    if gear.nominal_overall_ratio is not None:
        said += f" (tooth counts: {words.number(gear.nominal_overall_ratio, 3)})"
    return said if gear.consistent is not False else f"{said}, out of line"


class ComparisonFrames(Brief):
    """Tables of one comparison."""

    reference: str
    other: str
    gears: tuple[Any, ...]
    timed_spans: tuple[Any, ...]
    sprocket_candidates: tuple[Any, ...]

    def changes_frame(self) -> pd.DataFrame:
        """Return one row a gear: names of the two setups, then the fields of `GearChange`."""
        return self._frame("gears")

    def spans_frame(self) -> pd.DataFrame:
        """Return one row a timed span: names of the two setups, then the fields of `SpanComparison`."""
        return self._frame("timed_spans")

    def sprockets_frame(self) -> pd.DataFrame:
        """Return one row a tooth pair: names of the two setups, then the fields of `SprocketPair`."""
        return self._frame("sprocket_candidates")

    def _frame(self, field: str) -> pd.DataFrame:
        return tidy_frame(_kind(self, field), self._rows(field), self._pair())

    def _pair(self) -> Mapping[str, object]:
        return {"reference_setup": self.reference, "other_setup": self.other}

    def _rows(self, field: str) -> Iterator[Row]:
        yield from ((self._pair(), record) for record in getattr(self, field))

    def _repr_html_(self) -> str:
        rows = [
            (gear.gear, html_table.estimate_text(gear.change_percent, 2), gear.predicted_percent, gear.consistent)
            for gear in self.gears
        ]
        head = ("Gear", "Change [%]", "Tooth counts say [%]", "Consistent")
        return html_table.table(f"{self.other} against {self.reference}", head, rows)


class AnalysisFrames(Brief):
    """Tables of a whole ride folder."""

    bike: Bike
    setups: tuple[Any, ...]
    comparisons: tuple[Any, ...]
    findings: tuple[Any, ...]

    def gears_frame(self) -> pd.DataFrame:
        """Return the gears of all setups, as `SetupResult.gears_frame`."""
        return self._of_setups("gears")

    def runs_frame(self) -> pd.DataFrame:
        """Return the timed runs of all setups, as `SetupResult.runs_frame`."""
        return self._of_setups("timed_spans")

    def left_out_runs_frame(self) -> pd.DataFrame:
        """Return the runs of all setups that do not count, as `SetupResult.left_out_runs_frame`."""
        return self._of_setups("left_out_runs")

    def shifts_frame(self) -> pd.DataFrame:
        """Return the changes of gear of all setups' timed runs, as `SetupResult.shifts_frame`."""
        return tidy_frame(Shift, (row for part in self.setups for row in part._shifts()), _OF_RUN)

    def changes_frame(self) -> pd.DataFrame:
        """Return the changes of all comparisons, as `Comparison.changes_frame`."""
        return self._of_comparisons("gears")

    def spans_frame(self) -> pd.DataFrame:
        """Return the timed spans of all comparisons, as `Comparison.spans_frame`."""
        return self._of_comparisons("timed_spans")

    def speedometer_frame(self) -> pd.DataFrame:
        """Return the speedometers of all setups, as `SetupResult.speedometer_frame`."""
        points = (
            ({"setup": s.setup.name}, point)
            for s in self.setups
            if s.speedometer is not None
            for point in s.speedometer.at
        )
        return tidy_frame(SpeedometerPoint, points, ["setup"])

    def samples_frame(self) -> pd.DataFrame:
        """Return every sample of all setups, in order: setup, then the columns of `SetupResult.samples`."""
        import pandas as pd

        frames: list[pd.DataFrame] = [part.samples.assign(setup=part.setup.name) for part in self.setups]
        whole: pd.DataFrame = pd.concat(frames, ignore_index=True)
        return whole.reindex(columns=["setup", *(name for name in whole.columns if name != "setup")])

    def findings_frame(self) -> pd.DataFrame:
        """Return one row a finding."""
        return tidy_frame(_kind(self, "findings"), (({}, finding) for finding in self.findings))

    def _of_setups(self, field: str) -> pd.DataFrame:
        kind = _kind_in(self, "SetupResult", field)
        return tidy_frame(kind, (row for part in self.setups for row in part._rows(field)), ["setup"])

    def _of_comparisons(self, field: str) -> pd.DataFrame:
        kind = _kind_in(self, "Comparison", field)
        rows = (row for part in self.comparisons for row in part._rows(field))
        return tidy_frame(kind, rows, ["reference_setup", "other_setup"])

    def _repr_html_(self) -> str:
        texts = html_table.lines(self.bike.name or "Ride folder", (finding.text for finding in self.findings))
        return "".join([texts, *(part._repr_html_() for part in (*self.comparisons, *self.setups))])


def _kind_in(owner: object, record: str, field: str) -> type:
    """Return what a field of another record of the owner's module is a tuple of."""
    return _kind(getattr(sys.modules[type(owner).__module__], record), field)


def _kind(owner: object, field: str) -> type:
    """Return what a field, annotated `tuple[kind, ...]`, is a tuple of."""
    record = owner if isinstance(owner, type) else type(owner)

    class Annotated:
        __annotations__ = {"field": record.__annotations__[field]}

    hint = get_type_hints(Annotated, globalns=None, localns=vars(sys.modules[record.__module__]))["field"]
    kind = get_args(hint)[0]
    assert isinstance(kind, type)  # noqa: S101
    return kind
