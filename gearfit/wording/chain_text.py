"""Chain, axle and adjuster as plain text."""

from __future__ import annotations

from gearfit.prediction.chain_fit import ChainFit, ChainPair
from gearfit.prediction.swap import SwapPrediction
from gearfit.prediction.wishes import FEWEST_TEETH_ADVISED
from gearfit.records.words import count, number
from gearfit.wording.columns import bullets, paragraph, table


def chain_lines(prediction: SwapPrediction) -> list[str]:
    """Say what the new pair does to chain and axle; empty without a change of sprockets."""
    after = prediction.after
    if after is None or after.pair == prediction.now.pair:
        return []
    if prediction.chain_problem:
        return paragraph(f"This chain cannot go on: {prediction.chain_problem}.")
    if after.final_drive.kind != "chain":
        return paragraph(f"Final drive by {after.final_drive.kind}: nothing is said about chain and axle.")
    if prediction.chain is None:
        return paragraph(
            f"{roughly(prediction.now.pair, after.pair)} Slack and links need chain (or pitch_mm), links, front and "
            "rear in bike.toml."
        )
    return _fit_lines(prediction.chain)


def roughly(now: tuple[int, int] | None, after: tuple[int, int] | None) -> str:
    """Say where the axle goes from the teeth alone: half a pitch of chain for each tooth more, a quarter at the axle.

    L = 2 C + (N1 + N2) / 2 + ..., all in pitches, at the same L.
    """
    if now is None or after is None:
        return "One tooth moves the axle by about a quarter of a pitch, 4 mm on a 520 chain."
    more = sum(after) - sum(now)
    if more == 0:
        return "As many teeth in all as before: with the same chain the axle stays within some 2 mm of its place."
    way = "forwards" if more > 0 else "backwards"
    return (
        f"{count(abs(more), 'tooth', 'teeth')} {'more' if more > 0 else 'fewer'} in all: with the same chain the axle "
        f"moves {way} by about {4 * abs(more)} mm (a quarter of a pitch a tooth, 4 mm on a 520 chain)."
    )


def _fit_lines(fit: ChainFit) -> list[str]:
    head = ["pair", "links", "shafts mm", "handbook mm", "chain speed varies %", "same tooth on same link after"]
    movement_mm = 1000 * fit.axle_movement_m
    way = "backwards" if movement_mm > 0 else "forwards"
    said = [
        f"The axle moves {abs(movement_mm):.1f} mm {way} at the same slack; the wheelbase changes by "
        f"{number(movement_mm, 1, signed=True)} mm.",
        f"With the axle where it is the new pair takes up {fit.links_at_old_centre:.2f} links (handbook formula "
        f"{fit.handbook_links_at_old_centre:.2f}) of the {fit.now.links}.",
        _slack(fit),
        *_adjuster(fit),
        *_cautions(fit),
        "The machine's manual decides: slack, where and how it is measured, torque and alignment.",
    ]
    return [*table(head, [_pair_row(fit.now), _pair_row(fit.after)], words_last=True), *bullets(said)]


def _pair_row(pair: ChainPair) -> list[str]:
    wear = pair.wear
    return [
        f"{pair.front}/{pair.rear}",
        str(pair.links),
        f"{1000 * pair.centre_m:.1f}",
        f"{1000 * pair.handbook_centre_m:.1f}",
        f"{pair.chordal_percent:.2f}",
        f"{wear.front_turns} front, {wear.rear_turns} rear turns",
    ]


def _slack(fit: ChainFit) -> str:
    wanted = f"set for {1000 * fit.slack_m:.0f} mm of slack" if fit.slack_m else "set for no slack (none is stated)"
    if fit.unmoved_slack_m is None:
        return f"Now {wanted}; the new pair does not go on before the axle is moved forwards."
    return (
        f"Now {wanted}; with the new pair and the axle not moved it would be about {1000 * fit.unmoved_slack_m:.0f} mm "
        "(whole way up and down in the middle of the lower run)."
    )


def _adjuster(fit: ChainFit) -> list[str]:
    if fit.adjuster_left_mm is None or fit.axle_after_mm is None:
        return ["Whether the adjuster reaches cannot be told: state adjuster_mm and axle_at_mm (0 is its front end)."]
    front_mm, back_mm = fit.adjuster_left_mm
    if fit.reaches:
        return [
            f"The adjuster reaches: the axle comes to {fit.axle_after_mm:.1f} mm on its scale, {front_mm:.1f} mm from the "
            f"front end and {back_mm:.1f} mm from the rear end."
        ]
    lacking = f"{-min(front_mm, back_mm):.1f} mm beyond its {'front' if front_mm < 0 else 'rear'} end"
    if fit.links_to_add is None or fit.axle_with_links_mm is None:
        return [f"The adjuster cannot reach ({lacking}), and no even number of links helps: choose another pair."]
    verb = "Add" if fit.links_to_add > 0 else "Remove"
    return [
        f"The adjuster cannot reach ({lacking}). {verb} {abs(fit.links_to_add)} links: the axle then comes to "
        f"{fit.axle_with_links_mm:.1f} mm."
    ]


def _cautions(fit: ChainFit) -> list[str]:
    found = []
    if fit.after.front < FEWEST_TEETH_ADVISED:
        found.append(
            f"{fit.after.front} teeth at the front: chain makers' general notes ask for at least "
            f"{FEWEST_TEETH_ADVISED}; fewer run rougher and wear chain, sprocket and guide faster."
        )
    factors = [factor for factor in (fit.after.wear.front_factor, fit.after.wear.rear_factor) if factor > 1]
    if factors:
        found.append(
            "Teeth and links share a factor, so each tooth meets only every "
            f"{' or '.join(_ordinal(factor) for factor in sorted(set(factors)))} link and wear is less even; none shared "
            "is better."
        )
    return found


def _ordinal(factor: int) -> str:
    return {2: "second", 3: "third"}.get(factor, f"{factor}th")
