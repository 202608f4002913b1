"""Chain drives: length, centre distance, pitch diameter, chordal action, wear pattern, axle movement.

Symbols: p pitch, z1 and z2 teeth of the smaller and the larger sprocket, C centre distance in pitches, L length in
links. Either sprocket may be named first.

- (3a) L = 2 C + (z1 + z2)/2 + ((z2 - z1)/(2 pi))^2 / C: the handbook relation; Bhandari, *Design of Machine
  Elements*, chapter 14; Shigley's equation 17-34; Mott, *Machine Elements in Mechanical Design*, chapter 7.
- (3b) C = (A + sqrt(A^2 - 8 ((z2 - z1)/(2 pi))^2))/4 with A = L - (z1 + z2)/2: its inverse; same sources.
- (3c) L = 2 C cos(b) + z1 (1/2 - b/pi) + z2 (1/2 + b/pi), sin(b) = (r2 - r1)/C, r = 1/(2 sin(pi/z)): two straight
  strands, and one link for each tooth that the chain wraps; derived from the geometry. In the range of motorcycles
  (3a) is within 0.001 links of it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

#: A centre distance is sought until the chain fits to this, in links (three to seven steps do it).
_CLOSE_ENOUGH = 1e-12
_STEPS = 50


@dataclass(frozen=True)
class CommonFactors:
    """Greatest common factors of teeth and links; 1 spreads the wear over all pairs of tooth and link.

    Attributes
    ----------
    front_rear : int
        Of the teeth of both sprockets.
    front_links, rear_links : int
        Of the teeth of one sprocket and the links of the chain: each tooth meets only every so many-th link.
    """

    front_rear: int
    front_links: int
    rear_links: int


def pitch_diameter_m(pitch_m: float, teeth: float) -> float:
    """Return the pitch diameter [m] of a sprocket, D = p / sin(pi/z) (Mott, chapter 7; ISO 606)."""
    return pitch_m / math.sin(math.pi / teeth)


def chordal_variation(teeth: float) -> float:
    """Return the peak-to-peak variation of chain speed over its mean, as a fraction.

    (pi/z) (1/sin(pi/z) - 1/tan(pi/z)); Wei Jiang, *Analysis and Design of Machine Elements*, chapter 7, equations
    7.10-7.13. The mean over a turn is exactly the ratio of the teeth.
    """
    half_tooth = math.pi / teeth
    return half_tooth * (1 / math.sin(half_tooth) - 1 / math.tan(half_tooth))


def handbook_links(front: float, rear: float, centre_pitches: float) -> float:
    """Return the chain length in links by (3a); not rounded.

    Parameters
    ----------
    front, rear : float
        Teeth.
    centre_pitches : float
        Centre distance over pitch, C.
    """
    return 2 * centre_pitches + (front + rear) / 2 + ((rear - front) / (2 * math.pi)) ** 2 / centre_pitches


def handbook_centre_pitches(front: float, rear: float, links: float) -> float:
    """Return the centre distance in pitches by (3b); NaN where the chain is too short to go round.

    Parameters
    ----------
    front, rear : float
        Teeth.
    links : float
        Length of the chain in links, L.
    """
    strands = links - (front + rear) / 2
    root = strands**2 - 8 * ((rear - front) / (2 * math.pi)) ** 2
    return (strands + math.sqrt(root)) / 4 if strands > 0 and root >= 0 else math.nan


def exact_links(front: float, rear: float, centre_pitches: float) -> float:
    """Return the chain length in links by (3c); not rounded. NaN where one sprocket would lie within the other.

    Parameters
    ----------
    front, rear : float
        Teeth.
    centre_pitches : float
        Centre distance over pitch, C.
    """
    sine = (pitch_diameter_m(1, rear) - pitch_diameter_m(1, front)) / (2 * centre_pitches)
    if abs(sine) > 1:
        return math.nan
    slope = math.asin(sine)
    wrapped = front * (0.5 - slope / math.pi) + rear * (0.5 + slope / math.pi)
    return 2 * centre_pitches * math.cos(slope) + wrapped


def exact_centre_pitches(front: int, rear: int, links: float) -> float:
    """Return the centre distance in pitches at which a chain of `links` just goes round: the inverse of (3c).

    Raises
    ------
    ValueError
        The chain is so short that the sprockets would touch.
    """
    closest = (pitch_diameter_m(1, front) + pitch_diameter_m(1, rear)) / 2
    shortest = exact_links(front, rear, closest)
    if links <= shortest:
        raise ValueError(
            f"found {links:g} links round {front} and {rear} teeth; allowed are more than {shortest:.1f} links"
        )
    # Newton's steps: dL/dC is 2 cos(b), to within the difference of chord and arc.
    reach = (pitch_diameter_m(1, rear) - pitch_diameter_m(1, front)) / 2
    handbook = handbook_centre_pitches(front, rear, links)
    centre = closest if math.isnan(handbook) else max(handbook, closest)
    for _ in range(_STEPS):
        miss = links - exact_links(front, rear, centre)
        centre = max(centre + miss / (2 * math.sqrt(1 - (reach / centre) ** 2)), closest)
        if abs(miss) < _CLOSE_ENOUGH:
            break
    return centre


def axle_movement_m(
    pitch_m: float, links: float, reference_teeth: tuple[int, int], other_teeth: tuple[int, int]
) -> float:
    """Return how far the axle moves when other sprockets are fitted with the same chain, kept equally tight.

    Parameters
    ----------
    pitch_m : float
        Pitch of the chain [m].
    links : float
        Its length in links.
    reference_teeth, other_teeth : tuple of int
        (front, rear) teeth.

    Returns
    -------
    float
        Change of centre distance [m]; positive = the axle goes backwards.

    Raises
    ------
    ValueError
        As `exact_centre_pitches`.
    """
    return pitch_m * (exact_centre_pitches(*other_teeth, links) - exact_centre_pitches(*reference_teeth, links))


def common_factors(front: int, rear: int, links: int) -> CommonFactors:
    """Return the greatest common factors of both sprockets and the chain."""
    return CommonFactors(math.gcd(front, rear), math.gcd(front, links), math.gcd(rear, links))
