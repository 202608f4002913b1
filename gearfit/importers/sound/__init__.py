"""Engine speed out of the sound of the engine."""

from __future__ import annotations

from gearfit.importers.common.content import Content
from gearfit.importers.common.options import ReadOptions
from gearfit.importers.sound.audio import is_sound
from gearfit.records.recording import Recording

__all__ = ["is_sound", "read_sound"]


def read_sound(content: Content, options: ReadOptions) -> Recording:
    """Read a sound recording as `gearfit.importers.sound.read` does; its libraries are loaded only now."""
    from gearfit.importers.sound.read import read_engine_speed

    return read_engine_speed(content, options)
