"""What the page makes of each finding by its code: which questions it answers, how, and where its evidence stands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

CHANGE: Final = "Is it what the teeth predict?"
QUICKER: Final = "Is it quicker?"
SPEEDOMETER: Final = "Does the speedometer need correcting?"
NEXT: Final = "What next?"
#: In the order in which they are answered.
QUESTIONS: Final = (CHANGE, QUICKER, SPEEDOMETER, NEXT)


@dataclass(frozen=True)
class Entry:
    """What the page makes of findings of one code.

    Attributes
    ----------
    questions : tuple of str
        Which it answers; none: it stands under "Also found".
    verdict : str
        How sure the answer is, in words; empty where the finding adds to an answer without giving one.
    evidence : tuple of str
        Names of figures and tables, the most telling first.
    by_outcome : mapping of str to str
        Verdicts by the outcome of the finding, where one code has several.
    """

    questions: tuple[str, ...] = ()
    verdict: str = ""
    evidence: tuple[str, ...] = ()
    by_outcome: Mapping[str, str] = field(default_factory=dict)


#: Of each code that findings have.
CODES: Final = {
    "change-agrees": Entry((CHANGE,), "Yes, within the interval", ("change-per-gear", "changes")),
    "change-disagrees": Entry((CHANGE,), "No, beyond the scatter", ("change-per-gear", "changes")),
    "change-exchanged": Entry((CHANGE,), "Before and after look exchanged", ("change-per-gear", "changes")),
    "change-measured": Entry((CHANGE,), "Nothing was predicted", ("change-per-gear", "changes")),
    "change-undecided": Entry((CHANGE,), "Cannot tell yet", ("change-per-gear", "changes")),
    "clutch-suspect": Entry((CHANGE,), "Look at the clutch first", ("speed-against-rpm", "ratio-histogram")),
    "front-sprocket-guess": Entry((CHANGE,), evidence=("change-per-gear", "changes")),
    "gear-out-of-line": Entry((CHANGE,), evidence=("change-per-gear", "changes")),
    "gear-suspected": Entry((CHANGE,), evidence=("change-per-gear", "changes")),
    "no-common-gear": Entry((CHANGE,), "Cannot be compared", ("ratio-histogram", "gears")),
    "odd-row": Entry((CHANGE,), evidence=("odd-rows", "speed-against-rpm")),
    "same-number": Entry((CHANGE,), evidence=("speed-against-rpm", "ratios-against-nominal")),
    "speeds-at-rpm": Entry((CHANGE,), evidence=("speed-against-rpm", "gears")),
    "tooth-pairs": Entry((CHANGE,), evidence=("sprockets", "change-per-gear")),
    "tooth-pairs-none": Entry((CHANGE,), evidence=("sprockets", "change-per-gear")),
    "tooth-pairs-of-ride": Entry((CHANGE,), evidence=("key-figures", "ratios-against-nominal")),
    "speedometer-gearbox-driven": Entry(
        (CHANGE, SPEEDOMETER), "Cannot be seen this way", ("change-per-gear", "changes")
    ),
    "no-timed-runs": Entry((QUICKER,), "Not timed"),
    "run-caution": Entry((QUICKER,)),
    "run-directions": Entry((QUICKER,)),
    "run-left-out": Entry((QUICKER,), evidence=("runs-left-out",)),
    "run-misread": Entry((QUICKER,)),
    "run-not-alike": Entry((QUICKER,)),
    "run-one-way": Entry((QUICKER,)),
    "run-span-unshared": Entry((QUICKER,)),
    "swap-not-said": Entry((QUICKER,)),
    "swap-on-paper": Entry((QUICKER,)),
    "timed-differs": Entry((QUICKER,), "A difference beyond the scatter", ("timed-runs", "timed-spans")),
    "timed-too-few": Entry((QUICKER,), "Cannot tell yet", ("timed-runs", "timed-spans")),
    "timed-within-scatter": Entry((QUICKER,), "Not shown by these runs", ("timed-runs", "timed-spans")),
    "odometer": Entry((SPEEDOMETER,)),
    "odometer-not-judged": Entry((SPEEDOMETER,)),
    "speedometer": Entry((SPEEDOMETER,), "No rule was asked for", ("speedometer-error", "speedometer")),
    "speedometer-after-swap": Entry((SPEEDOMETER,), evidence=("speedometer-error", "speedometer")),
    "speedometer-correction": Entry((SPEEDOMETER,), evidence=("speedometer-error", "speedometer")),
    "speedometer-not-judged": Entry((SPEEDOMETER,), "Cannot tell yet", ("speedometer-error", "speedometer")),
    "speedometer-only": Entry((SPEEDOMETER,), "Cannot tell from itself", ("speedometer-error", "speedometer")),
    "speedometer-pick-up": Entry((SPEEDOMETER,), evidence=("speedometer-error", "speedometer")),
    "speedometer-remark": Entry((SPEEDOMETER,), evidence=("speedometer-error", "speedometer")),
    "speedometer-under-reads": Entry((SPEEDOMETER,), "Yes, it shows too little", ("speedometer-error", "speedometer")),
    "speedometer-verdict": Entry(
        (SPEEDOMETER,),
        evidence=("speedometer-error", "speedometer"),
        by_outcome={
            "within": "No, within the rule",
            "outside": "Yes, outside the rule",
            "cannot tell yet": "Cannot tell yet",
        },
    ),
    "bike-file-incomplete": Entry((NEXT,)),
    "no-bike-file": Entry((NEXT,)),
    "one-more-ride": Entry((NEXT,), "Not settled yet", ("timed-spans", "sprockets", "changes")),
    "one-setup": Entry((NEXT,), "Ride the other setup"),
    "wish-met": Entry((NEXT,), "The wish is met", ("key-figures", "changes")),
    "wish-needs-teeth": Entry((NEXT,), evidence=("key-figures", "changes")),
    "wish-not-judged": Entry((NEXT,), evidence=("key-figures", "changes")),
    "wish-pairs": Entry((NEXT,), evidence=("key-figures", "changes")),
    "circumference": Entry(evidence=("key-figures", "circumference-history", "ratios-against-nominal")),
    "circumference-far-from-nominal": Entry(
        evidence=("key-figures", "circumference-history", "ratios-against-nominal")
    ),
    "circumference-unlikely": Entry(evidence=("gears",)),
    "correction-out-of-range": Entry(),
    "correction-without-air": Entry(),
    "file-left-aside": Entry(evidence=("left-out",)),
    "gear-numbering-uncertain": Entry(evidence=("ratio-histogram", "gears")),
    "gear-off-its-teeth": Entry(evidence=("ratios-against-nominal", "gears")),
    "gear-uncertain": Entry(evidence=("ratio-histogram", "gears")),
    "gear-without-reading": Entry(evidence=("ratio-histogram", "gears")),
    "gearbox-lacks-gear": Entry(evidence=("ratio-histogram", "gears")),
    "gears-counted": Entry(evidence=("ratio-histogram", "gears")),
    "gears-from-samples": Entry(evidence=("ratio-histogram", "gears")),
    "gears-from-starts": Entry(evidence=("ratio-histogram", "gears")),
    "import": Entry(evidence=("left-out",)),
    "lag": Entry(evidence=("key-figures",)),
    "machine-speed": Entry(),
    "no-gears": Entry(evidence=("ratio-histogram", "speed-against-rpm")),
    "noise": Entry(),
    "recording-not-used": Entry(evidence=("left-out",)),
    "recordings-joined": Entry(evidence=("left-out",)),
    "rows-not-placed": Entry(),
    "rows-not-read": Entry(),
    "same-readings-in-two-setups": Entry(),
    "same-readings-twice": Entry(),
    "speed-from-positions": Entry(evidence=("key-figures",)),
}
