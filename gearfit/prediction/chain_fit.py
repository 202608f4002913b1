"""The same chain on another pair of sprockets: axle, slack, adjuster, links, wear pattern.

Slack is the whole way, up and down, that the middle of the lower run can be moved. The run of length s, too long by e,
pulled to a point in the middle makes two sides of a triangle of height S/2: (s + e)^2 = s^2 + S^2, so e = S^2 / (2 s)
for the small e of a chain (derived; the sag of its weight left out).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from gearfit.machine.bike import FinalDrive
from gearfit.prediction.chain import (
    chordal_variation,
    exact_centre_pitches,
    exact_links,
    handbook_centre_pitches,
    handbook_links,
    pitch_diameter_m,
)

#: Links are added or removed in twos (no cranked link), at most so many.
_LINK_STEPS: Final = (0, 2, -2, 4, -4, 6, -6)


@dataclass(frozen=True)
class WearPattern:
    """How often the same tooth meets the same link.

    Attributes
    ----------
    front_turns, rear_turns : int
        Turns of the sprocket after which each of its teeth meets the same link again.
    front_factor, rear_factor : int
        Greatest common factor of teeth and links; at 1 each tooth meets every link.
    """

    front_turns: int
    rear_turns: int
    front_factor: int
    rear_factor: int


@dataclass(frozen=True)
class ChainPair:
    """The chain on one pair of sprockets at the slack wanted.

    Attributes
    ----------
    front, rear, links : int
        Teeth and links.
    centre_m : float
        Distance of the shafts, exact geometry.
    handbook_centre_m : float
        The same by the handbook formula, for a chain without slack.
    chordal_percent : float
        Peak-to-peak variation of chain speed, front sprocket.
    wear : WearPattern
        How often tooth and link meet.
    """

    front: int
    rear: int
    links: int
    centre_m: float
    handbook_centre_m: float
    chordal_percent: float
    wear: WearPattern


@dataclass(frozen=True)
class ChainFit:
    """The same chain, now and after.

    Attributes
    ----------
    pitch_m : float
        Pitch.
    now, after : ChainPair
        Both pairs at the same slack; `after` with the chain as it is.
    slack_m : float
        Slack that both are set to: the middle of the manual's range, 0 where it is not stated.
    axle_movement_m : float
        Positive = the axle goes backwards; so much longer (+) or shorter the wheelbase becomes.
    links_at_old_centre, handbook_links_at_old_centre : float
        Length of chain, in links and not rounded, that the new pair would take up with the axle where it is: exact, and
        by the handbook formula.
    unmoved_slack_m : float or None
        Slack with the new pair before the axle is moved; None where the chain would not go on.
    axle_after_mm : float or None
        Place on the adjuster's scale; None where bike.toml does not state `axle_at_mm`.
    adjuster_left_mm : (float, float) or None
        Travel left forwards and backwards; a negative one is what it lacks.
    links_to_add : int or None
        Links to add (+) or remove so that the axle stays on its adjuster; 0 = none, None = not to be said, or no even
        number does.
    axle_with_links_mm : float or None
        Place on the scale with these links.
    """

    pitch_m: float
    now: ChainPair
    after: ChainPair
    slack_m: float
    axle_movement_m: float
    links_at_old_centre: float
    handbook_links_at_old_centre: float
    unmoved_slack_m: float | None
    axle_after_mm: float | None
    adjuster_left_mm: tuple[float, float] | None
    links_to_add: int | None
    axle_with_links_mm: float | None

    @property
    def reaches(self) -> bool | None:
        """Whether the axle stays on its adjuster with the chain as it is; None where not stated."""
        return None if self.adjuster_left_mm is None else min(self.adjuster_left_mm) >= 0


def excess_m(slack_m: float, run_m: float) -> float:
    """Return by how much a run of length `run_m` [m] is too long when its middle moves by `slack_m` [m] in all."""
    return math.hypot(run_m, slack_m) - run_m


def slack_m(excess: float, run_m: float) -> float:
    """Return the slack [m] of a run that is too long by `excess` [m], at least 0; the inverse of `excess_m`."""
    return math.sqrt((run_m + excess) ** 2 - run_m**2)


def wear_pattern(front: int, rear: int, links: int) -> WearPattern:
    """Count the turns after which tooth and link meet again: least common multiple of both over the teeth."""
    return WearPattern(
        front_turns=math.lcm(front, links) // front,
        rear_turns=math.lcm(rear, links) // rear,
        front_factor=math.gcd(front, links),
        rear_factor=math.gcd(rear, links),
    )


def chain_fit(drive: FinalDrive, pair: tuple[int, int]) -> ChainFit | None:
    """Put another pair of sprockets on a chain drive.

    Parameters
    ----------
    drive : FinalDrive
        What is fitted now, with pitch and number of links.
    pair : (int, int)
        Teeth (front, rear) to fit.

    Returns
    -------
    ChainFit or None
        None where this is no chain, or where teeth, pitch or links are not stated.

    Raises
    ------
    ValueError
        The chain is too short to go round one of the pairs.
    """
    if drive.kind != "chain" or not (drive.front and drive.rear and drive.pitch_mm and drive.links):
        return None
    pitch_m, links = drive.pitch_mm / 1000, drive.links
    wanted_m = sum(drive.slack_mm) / 2000 if drive.slack_mm else 0.0
    now = _pair(pitch_m, drive.front, drive.rear, links, wanted_m)
    after = _pair(pitch_m, *pair, links, wanted_m)
    movement_m = after.centre_m - now.centre_m
    placed = drive.adjuster_mm is not None and drive.axle_at_mm is not None
    place_mm = (drive.axle_at_mm or 0.0) + 1000 * movement_m if placed else None
    added, with_links_mm = _links_to_add(drive, pitch_m, after, wanted_m, place_mm)
    return ChainFit(
        pitch_m=pitch_m,
        now=now,
        after=after,
        slack_m=wanted_m,
        axle_movement_m=movement_m,
        links_at_old_centre=exact_links(*pair, now.centre_m / pitch_m),
        handbook_links_at_old_centre=handbook_links(*pair, now.centre_m / pitch_m),
        unmoved_slack_m=_unmoved_slack_m(pitch_m, now, after),
        axle_after_mm=place_mm,
        adjuster_left_mm=_left_mm(drive, place_mm),
        links_to_add=added,
        axle_with_links_mm=with_links_mm,
    )


def _pair(pitch_m: float, front: int, rear: int, links: int, wanted_m: float) -> ChainPair:
    centre = exact_centre_pitches(front, rear, links)
    centre = exact_centre_pitches(
        front, rear, links - excess_m(wanted_m, _run_m(pitch_m, front, rear, centre)) / pitch_m
    )
    return ChainPair(
        front=front,
        rear=rear,
        links=links,
        centre_m=pitch_m * centre,
        handbook_centre_m=pitch_m * handbook_centre_pitches(front, rear, links),
        chordal_percent=100 * chordal_variation(front),
        wear=wear_pattern(front, rear, links),
    )


def _run_m(pitch_m: float, front: int, rear: int, centre_pitches: float) -> float:
    """Length of the straight lower run."""
    step = (pitch_diameter_m(1, rear) - pitch_diameter_m(1, front)) / 2
    return pitch_m * math.sqrt(centre_pitches**2 - step**2)


def _unmoved_slack_m(pitch_m: float, now: ChainPair, after: ChainPair) -> float | None:
    centre = now.centre_m / pitch_m
    excess = pitch_m * (now.links - exact_links(after.front, after.rear, centre))
    return slack_m(excess, _run_m(pitch_m, after.front, after.rear, centre)) if excess >= 0 else None


def _left_mm(drive: FinalDrive, place_mm: float | None) -> tuple[float, float] | None:
    if drive.adjuster_mm is None or place_mm is None:
        return None
    low, high = drive.adjuster_mm
    return place_mm - low, high - place_mm


def _links_to_add(
    drive: FinalDrive, pitch_m: float, after: ChainPair, wanted_m: float, place_mm: float | None
) -> tuple[int | None, float | None]:
    """Find the smallest even change of links that keeps the axle on its adjuster, and the axle's place with it."""
    if drive.adjuster_mm is None or place_mm is None:
        return None, None
    low, high = drive.adjuster_mm
    for added in _LINK_STEPS:
        other = _pair(pitch_m, after.front, after.rear, after.links + added, wanted_m)
        with_links_mm = place_mm + 1000 * (other.centre_m - after.centre_m)
        if low <= with_links_mm <= high:
            return added, with_links_mm
    return None, None
