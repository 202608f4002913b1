"""Compare what results.json says with what is true.

An estimate is wrong as if sure where nothing warns of it, its 95 % interval misses the truth, and the truth is more
than three of its standard errors, or twice half of the interval, away.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import log
from typing import Any, Final

from tests.validation.recorded.answer import Answer
from tests.validation.recorded.launches import true_time_s
from tests.validation.recorded.pairs import Band, Gear, Made

#: Warnings that tell a reader not to trust the change.
DOUBTS_CHANGE: Final = frozenset(
    {"change-undecided", "no-common-gear", "speedometer-gearbox-driven", "speedometer-pick-up", "no-gears"}
)
#: Warnings that tell a reader not to trust the gears of a setup.
DOUBTS_GEARS: Final = frozenset({"gear-numbering-uncertain", "gear-uncertain", "no-gears", "gears-counted"})
#: Warnings that blame a gear, the teeth or the clutch, none of which is to blame in this study.
BLAMES_GEAR: Final = frozenset({"gear-out-of-line", "gear-suspected", "gear-off-its-teeth", "clutch-suspect"})
BLAMES_TEETH: Final = frozenset(
    {"change-disagrees", "change-exchanged", "tooth-pairs", "tooth-pairs-none", "tooth-pairs-of-ride",
     "circumference-far-from-nominal", "circumference-unlikely"}
)  # fmt: skip
#: A gear found is one of the machine's where it is this near, ln; half the least step.
SAME: Final = 0.035
#: A gear ridden for this long has to be found, s.
MUST_S: Final = 10.0
MUST_SHORT_S: Final = 1.0


@dataclass(frozen=True)
class Told:
    """An estimate against its truth."""

    what: str
    value: float
    se: float
    lo95: float
    hi95: float
    truth: float
    warned: bool

    @property
    def held(self) -> bool:
        """Whether the 95 % interval holds the truth."""
        return self.lo95 <= self.truth <= self.hi95

    @property
    def wrong(self) -> bool:
        """Whether it is wrong as if sure."""
        off, half = abs(self.value - self.truth), (self.hi95 - self.lo95) / 2
        return not self.warned and not self.held and (off > 3 * self.se or off > 2 * half)

    def __str__(self) -> str:
        off = (self.value - self.truth) / self.se if self.se else float("inf")
        return (
            f"{self.what} {self.value:.4g} ({self.lo95:.4g} to {self.hi95:.4g}), true {self.truth:.4g}, "
            f"{off:+.1f} standard errors{', warned' if self.warned else ''}"
        )


@dataclass(eq=False)
class Verdict:
    """What is right and wrong in one answer."""

    row: str
    seed: int
    drawn: str
    change: Told | None = None
    #: Speeds per 1000 rev/min, in per cent of the truth.
    gears: list[Told] = field(default_factory=list)
    circumferences: list[Told] = field(default_factory=list)
    times: list[Told] = field(default_factory=list)
    roll_ons: list[Told] = field(default_factory=list)
    #: Of both kinds, from one setup to the other.
    time_changes: list[Told] = field(default_factory=list)
    #: "right", "uncertain" or "wrong" for each setup.
    ladders: list[str] = field(default_factory=list)
    blamed_gear: list[str] = field(default_factory=list)
    blamed_teeth: list[str] = field(default_factory=list)
    refusal: str = ""
    crash: str = ""
    remarks: list[str] = field(default_factory=list)

    @property
    def wrong(self) -> list[str]:
        """Everything wrong as if sure, in words."""
        told = [*([self.change] if self.change else []), *self.gears, *self.circumferences]
        told += [*self.times, *self.roll_ons, *self.time_changes]
        found = [str(one) for one in told if one.wrong]
        if "wrong" in self.ladders:
            found += self.remarks
        return found + [f"blamed: {text[:160]}" for text in [*self.blamed_gear, *self.blamed_teeth]]


def judge(made: Made, said: Answer) -> Verdict:
    """Judge one answer."""
    found = Verdict(made.row.name, made.seed, made.drawn, refusal=said.refusal, crash=said.crash)
    if not said.results:
        return found
    truth = made.truth
    comparison = said.results["comparison"]
    if comparison is not None and comparison["all_gears_change_percent"] is not None:
        warned = bool(said.codes() & DOUBTS_CHANGE)
        found.change = _told("change", comparison["all_gears_change_percent"], truth.change_percent, warned)
    for name, setup in said.results["setups"].items():
        warned = bool(said.texts(DOUBTS_GEARS, name))
        _judge_gears(found, made, name, setup, warned)
        round_m = setup["rolling_circumference_m"]
        if round_m is not None:
            doubt = bool(said.texts(frozenset({"gear-numbering-uncertain"}), name))
            found.circumferences.append(_told(f"{name} circumference", round_m, truth.circumference_m[name], doubt))
    if comparison is not None and comparison["swap_on_paper"] is not None:
        _judge_times(found, made, comparison["swap_on_paper"])
    found.blamed_gear = said.texts(BLAMES_GEAR)
    found.blamed_teeth = said.texts(BLAMES_TEETH)
    return found


def _told(what: str, e: dict[str, float], true: Band, warned: bool) -> Told:
    """Hold an estimate against what is nearest to it of all that is true."""
    truth = min(max(e["value"], true[0]), true[1])
    return Told(what, e["value"], e["se"], e["lo95"], e["hi95"], truth, warned)


def _judge_gears(found: Verdict, made: Made, name: str, setup: dict[str, Any], warned: bool) -> None:
    true = made.truth.gears[name]
    false, seen = [], set()
    for gear in setup["gears"]:
        e = gear["speed_per_1000rpm_mps"]
        at = _nearest(e["value"], true)
        if at is None or at in seen or (made.gearbox_stated and at != gear["gear"]):
            false.append(f"{name}: gear {gear['gear']} at {e['value']:.3f} m/s per 1000 rpm is {at or 'none'}")
            continue
        seen.add(at)
        by = 100 / true[at].per_1000rpm_mps
        shares = {key: by * e[key] for key in ("value", "se", "lo95", "hi95")}
        band = (by * true[at].band[0], by * true[at].band[1])
        found.gears.append(_told(f"{name} gear {at}, % of truth", shares, band, warned))
    least = MUST_SHORT_S if made.row.rides == "short" else MUST_S
    missed = [gear for gear, one in true.items() if one.seconds >= least and gear not in seen]
    if not setup["gears"] and made.row.rides == "variator":
        found.ladders.append("right")
    elif false and not warned:
        found.ladders.append("wrong")
        found.remarks += false
    elif false or missed:
        found.ladders.append("uncertain")
    else:
        found.ladders.append("right")
    if missed:
        found.remarks.append(f"{name}: missed {missed}")


def _nearest(value: float, true: dict[int, Gear]) -> int | None:
    near = {gear: abs(log(value / one.per_1000rpm_mps)) for gear, one in true.items()}
    best = min(near, key=lambda gear: near[gear], default=None)
    return best if best is not None and near[best] < SAME else None


def _judge_times(found: Verdict, made: Made, paper: dict[str, Any]) -> None:
    for span in paper["spans"]:
        gears = tuple(span["gears"])
        start = span["from_mps"] == 0.0
        if not start and (span["how"] != "roll-on" or len(gears) != 1):
            continue
        into = found.times if start else found.roll_ons
        both: list[Band] = []
        for key, setup in (("reference_s", "before"), ("other_s", "after")):
            if span[key] is None:
                continue
            gear = None if start else gears[0]
            true = true_time_s(made.truth, setup, span["from_mps"], span["to_mps"], gear)
            if true is not None:
                label = f"{setup} {3.6 * span['from_mps']:.0f} to {3.6 * span['to_mps']:.0f} km/h, s"
                into.append(_told(label, span[key], true, False))
                both.append(true)
        if span["difference_s"] is not None and len(both) == 2:
            moved = sorted(after - before for before, after in zip(*both, strict=True))
            label = f"change of {3.6 * span['from_mps']:.0f} to {3.6 * span['to_mps']:.0f} km/h, s"
            found.time_changes.append(_told(label, span["difference_s"], (moved[0], moved[1]), False))
