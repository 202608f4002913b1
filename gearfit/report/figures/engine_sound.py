"""Spectrogram of each sound recording with the engine speed that was heard in it."""

from __future__ import annotations

from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from gearfit.records.recording import SoundPicture
from gearfit.records.results import Analysis
from gearfit.report.figures import style
from gearfit.report.figures.panels import Room, panels
from gearfit.report.figures.style import in_our_style

#: Width of the line, and of the light edge that sets it off from dark and light ground.
_LINE, _EDGE = 1.1, 2.4
_LIGHT: Final = "#ffffff"


@in_our_style
def draw(analysis: Analysis) -> Figure | None:
    """Draw one panel per recording; None where there is no sound."""
    pictures = pictures_of(analysis)
    if not pictures:
        return None
    titles = [style.in_lines(picture.file, style.WIDTH_IN - 0.8) for picture in pictures]
    room = Room().under(titles)
    figure, axes = panels(style.WIDTH_IN, 2.5 * len(pictures) + 0.5, len(pictures), room=room)
    for ax, picture, text in zip(axes, pictures, titles, strict=True):
        _panel(ax, picture)
        ax.set_title(text)
    axes[-1].set_xlabel("Time from the start of the recording [s]")
    return figure


def pictures_of(analysis: Analysis) -> list[SoundPicture]:
    """Return the pictures of all setups, in order."""
    return [picture for result in analysis.setups for picture in result.sounds]


def caption(analysis: Analysis) -> str:
    """Say what the figure shows."""
    return (
        "The sound of the engine: dark is loud. The line is the firing frequency of the engine speed that was made "
        "out; dark bands should run at fixed multiples of it, up and down with it, and with even firing the lowest one "
        "on it. Where there is no line the moment was left out."
    )


def alt(analysis: Analysis) -> str:
    """State what the figure shows to a reader who cannot see it."""
    parts = []
    for picture in pictures_of(analysis):
        heard = np.isfinite(picture.ridge_rpm)
        if not heard.any():
            parts.append(f"{picture.file}: no engine speed could be made out")
            continue
        lowest, highest = np.nanmin(picture.ridge_rpm), np.nanmax(picture.ridge_rpm)
        parts.append(
            f"{picture.file}: engine speed made out in {100 * heard.mean():.0f} % of the time, from {lowest:.0f} to "
            f"{highest:.0f} rpm"
        )
    return f"{'. '.join(parts)}. Spectrogram with the firing frequency."


def _panel(ax: Axes, picture: SoundPicture) -> None:
    ends = (picture.time_s[0], picture.time_s[-1], picture.frequency_hz[0], picture.frequency_hz[-1])
    ax.imshow(picture.level_db, cmap="Greys", aspect="auto", origin="lower", extent=ends, interpolation="nearest")
    firing_hz = picture.ridge_rpm / 60 * picture.firings_per_turn
    ax.plot(picture.ridge_time_s, firing_hz, color=_LIGHT, linewidth=_EDGE, rasterized=True)
    ax.plot(picture.ridge_time_s, firing_hz, color=style.setup_style(1).dark, linewidth=_LINE, rasterized=True)
    ax.set_xlim(ends[0], ends[1])
    ax.set_ylim(ends[2], ends[3])
    ax.grid(visible=False)
    ax.set_ylabel("Frequency [Hz]")
