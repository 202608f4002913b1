"""What the numbers mean, what the data cannot tell, and the cautions: the page's standing words."""

from __future__ import annotations

from typing import Final

from gearfit.records.results import Analysis
from gearfit.records.words import setup_label, speed_label

#: Pairs of a short statement and its reason.
LIMITS: Final = (
    (
        "Circumference and gear ratios cannot both be had from speed and engine speed.",
        "A bigger tyre and a longer gear look exactly alike. The circumference rests on the tooth counts, and an "
        "overall ratio rests on a circumference that was known beforehand.",
    ),
    (
        "A tachometer that reads high or low acts exactly like another circumference.",
        "2 % on the tachometer is 2 % on the circumference. The error cancels in the change between two rides on the "
        "same machine.",
    ),
    (
        "A tyre can do what a sprocket does.",
        "Wear, pressure, load or another make move all gears together: 6 mm of tread on a wheel of 640 mm is 1.9 %, "
        "nearly one tooth in 50. Note tyre and pressure with each ride.",
    ),
    (
        "A speedometer is no outside witness.",
        "One driven from the gearbox shows the same speed at the same rpm whatever rear sprocket is fitted. Only speed "
        "from a satellite receiver or a measured distance can show the change then.",
    ),
    (
        "Timed runs carry wind, slope, temperature, fuel load and the rider's hand.",
        "Ride each span several times in both directions, and compare differences with the scatter of the runs.",
    ),
)

CAUTIONS: Final = (
    "Full-throttle and timed runs belong on a closed road or track. On public roads keep to the legal speed.",
    "Let the logger or a passenger do the reading: eyes on the road, not on the dash.",
    "For axle and sprocket torque, chain slack, wheel alignment and the range of the adjuster, the machine's own "
    "manual rules. Check the clearance of chain, guard and swing arm after every change of sprocket.",
    "A change of gearing can touch type approval, noise rules, insurance and the speedometer's lawful error. Local law "
    "and licensed practice come before anything on this page.",
)


def meanings(analysis: Analysis) -> list[tuple[str, str]]:
    """Return the terms of the page with their meaning, and on what each circumference rests."""
    unit = speed_label(analysis.speed_unit)
    terms = [
        (
            f"{unit} per 1000 rpm",
            "Road speed in a gear for every 1000 turns of the engine a minute. It comes from the samples alone.",
        ),
        (
            "Change",
            "How much that speed moved from the reference ride to the other, in per cent. A sprocket moves every gear "
            "by the same percentage, never by the same number of "
            f"{unit}.",
        ),
        (
            "Tooth counts say",
            "The change that follows from the sprockets as stated: front teeth in proportion, rear teeth inversely.",
        ),
        (
            "95 % interval",
            "Written in brackets after a number or below it. If the rides were repeated again and again, 95 of 100 "
            "such intervals would hold the true value. Two numbers whose intervals overlap widely may be the same.",
        ),
        (
            "Overall ratio",
            "Turns of the engine for one turn of the driven wheel: primary drive x gear x final drive.",
        ),
        (
            "Deviation",
            "How far a gear's ratio is from the tooth counts once the one circumference that suits the other gears "
            "best is taken out.",
        ),
        ("Rolling circumference", "The distance that the machine covers in one turn of the driven wheel, rider up."),
        (
            "Passage",
            "One stretch ridden in one gear, or one row of a sheet. Samples within a passage share their errors, so "
            "passages, not samples, decide how wide an interval is.",
        ),
        ("Left out", "Samples that show no gear: clutch in, shifting, wheelspin, standing, or a value missing."),
    ]
    for result in analysis.setups:
        if result.circumference is not None:
            rests_on = result.circumference.rests_on
            terms.append((f"Circumference, {setup_label(result.setup)}", f"Rests on: {rests_on}"))
    return terms
