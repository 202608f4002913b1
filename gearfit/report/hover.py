"""What the page's script needs to tell the sample under the pointer: few samples, and where the panels lie."""

from __future__ import annotations

import json
from typing import Final

import numpy as np
from matplotlib.figure import Figure

from gearfit.results import Analysis, SetupResult

#: The figure whose samples are told.
FIGURE: Final = "speed-against-rpm"
#: Samples of a setup that the page carries; of more, every so many.
MOST: Final = 1500


def panels(figure: Figure) -> str:
    """Return place and ends of each panel, once the figure was laid out, as JSON.

    Left, top, width and height are shares of the picture; then the ends of the horizontal and the vertical axis.
    """
    found = []
    for ax in figure.axes:
        place = ax.get_position()
        ends = (*ax.get_xlim(), *ax.get_ylim())
        found.append([round(float(v), 5) for v in (place.x0, 1 - place.y1, place.width, place.height, *ends)])
    return json.dumps(found, separators=(",", ":"))


def samples_json(analysis: Analysis) -> str:
    """Return samples setup by setup: rpm, hundredths of m/s, gear (0: left out), tenths of a second (-1: none)."""
    told = json.dumps([_columns(result) for result in analysis.setups], separators=(",", ":"))
    return told.replace("<", "\\u003c")


def _columns(result: SetupResult) -> dict[str, list[int]]:
    table = result.samples
    whole = np.flatnonzero((table["speed_mps"].notna() & table["engine_rpm"].notna()).to_numpy())
    some = table.iloc[whole[:: max(-(-len(whole) // MOST), 1)]]
    return {
        "rpm": some["engine_rpm"].round().astype(int).tolist(),
        "speed": (100 * some["speed_mps"]).round().astype(int).tolist(),
        "gear": some["gear"].fillna(0).astype(int).tolist(),
        "time": (10 * some["time_s"]).round().fillna(-1).astype(int).tolist(),
    }
