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

import numpy as np
import numpy.typing as npt

Numbers = npt.ArrayLike
Result = npt.NDArray[np.float64]

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


def pitch_diameter_m(pitch_m: Numbers, teeth: Numbers) -> Result:
    """Return the pitch diameter [m] of a sprocket, D = p / sin(pi/z) (Mott, chapter 7; ISO 606)."""
    return np.asarray(pitch_m, float) / np.sin(np.pi / np.asarray(teeth, float))


def chordal_variation(teeth: Numbers) -> Result:
    """Return the peak-to-peak variation of chain speed over its mean, as a fraction.

    (pi/z) (1/sin(pi/z) - 1/tan(pi/z)); Wei Jiang, *Analysis and Design of Machine Elements*, chapter 7, equations
    7.10-7.13. The mean over a turn is exactly the ratio of the teeth.
    """
    half_tooth = np.pi / np.asarray(teeth, float)
    return np.asarray(half_tooth * (1 / np.sin(half_tooth) - 1 / np.tan(half_tooth)))


def handbook_links(front: Numbers, rear: Numbers, centre_pitches: Numbers) -> Result:
    """Return the chain length in links by (3a); not rounded.

    Parameters
    ----------
    front, rear : array_like
        Teeth.
    centre_pitches : array_like
        Centre distance over pitch, C.
    """
    front, rear, centre = (np.asarray(value, float) for value in (front, rear, centre_pitches))
    return np.asarray(2 * centre + (front + rear) / 2 + ((rear - front) / (2 * np.pi)) ** 2 / centre)


def handbook_centre_pitches(front: Numbers, rear: Numbers, links: Numbers) -> Result:
    """Return the centre distance in pitches by (3b); NaN where the chain is too short to go round.

    Parameters
    ----------
    front, rear : array_like
        Teeth.
    links : array_like
        Length of the chain in links, L.
    """
    front, rear, links = (np.asarray(value, float) for value in (front, rear, links))
    strands = links - (front + rear) / 2
    root = strands**2 - 8 * ((rear - front) / (2 * np.pi)) ** 2
    possible = (strands > 0) & (root >= 0)
    return np.where(possible, (strands + np.sqrt(np.where(possible, root, 0))) / 4, np.nan)


def exact_links(front: Numbers, rear: Numbers, centre_pitches: Numbers) -> Result:
    """Return the chain length in links by (3c); not rounded. NaN where one sprocket would lie within the other.

    Parameters
    ----------
    front, rear : array_like
        Teeth.
    centre_pitches : array_like
        Centre distance over pitch, C.
    """
    front, rear, centre = (np.asarray(value, float) for value in (front, rear, centre_pitches))
    sine = (pitch_diameter_m(1, rear) - pitch_diameter_m(1, front)) / (2 * centre)
    slope = np.arcsin(np.where(np.abs(sine) <= 1, sine, np.nan))
    return 2 * centre * np.cos(slope) + front * (0.5 - slope / np.pi) + rear * (0.5 + slope / np.pi)


def exact_centre_pitches(front: int, rear: int, links: float) -> float:
    """Return the centre distance in pitches at which a chain of `links` just goes round: the inverse of (3c).

    Raises
    ------
    ValueError
        The chain is so short that the sprockets would touch.
    """
    closest = float(pitch_diameter_m(1, front) + pitch_diameter_m(1, rear)) / 2
    shortest = float(exact_links(front, rear, closest))
    if links <= shortest:
        raise ValueError(
            f"found {links:g} links round {front} and {rear} teeth; allowed are more than {shortest:.1f} links"
        )
    # Newton's steps: dL/dC is 2 cos(b), to within the difference of chord and arc.
    reach = float(pitch_diameter_m(1, rear) - pitch_diameter_m(1, front)) / 2
    centre = max(float(np.nan_to_num(handbook_centre_pitches(front, rear, links))), closest)
    for _ in range(_STEPS):
        miss = links - float(exact_links(front, rear, centre))
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
