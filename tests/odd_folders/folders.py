"""One odd ride folder from its seed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np

from tests.odd_folders import logs, sheets
from tests.odd_folders.machines import Machine, draw_machine, held, ridden
from tests.odd_folders.oddities import odd_file, odd_ride
from tests.odd_folders.papers import draw_papers

Files = Mapping[str, bytes]
KINDS: Final = {
    "readings": 0.3,
    "text log": 0.2,
    "track": 0.12,
    "track and rpm log": 0.1,
    "sentences": 0.06,
    "timed": 0.12,
    "dash": 0.04,
    "odometer": 0.02,
    "held rpm": 0.04,
}


def odd_folder(seed: int) -> Files:
    """Make the files of a folder, always the same for a seed."""
    rng = np.random.default_rng([41, seed])
    machine = draw_machine(rng)
    papers, names = draw_papers(rng, machine)
    files: dict[str, bytes] = {} if papers is None else {"bike.toml": papers}
    between = str(rng.choice(["/", "_", " "], p=[0.8, 0.1, 0.1]))
    alike = str(rng.choice(list(KINDS), p=list(KINDS.values())))
    for place, name in enumerate(names):
        if rng.random() < 0.05:
            continue
        for number in range(int(rng.choice([1, 2, 3], p=[0.6, 0.3, 0.1]))):
            mixed = number > 0 or rng.random() < 0.15
            kind = str(rng.choice(list(KINDS), p=list(KINDS.values()))) if mixed else alike
            for part, content in enumerate(_files(rng, kind, machine, min(place, 1))):
                files[f"{name}{between}{number}{part}.csv"] = odd_file(rng, content)
    return files


def write(files: Files, folder: Path) -> Path:
    """Write files below a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    return folder


def _files(rng: np.random.Generator, kind: str, machine: Machine, which: int) -> list[bytes]:
    style = sheets.draw_style(rng)
    if kind in ("readings", "held rpm"):
        ride = odd_ride(rng, held(rng, machine, which, float(rng.choice([0, 0.003, 0.01, 0.03]))))
        if rng.random() < 0.2:
            style = replace(style, gear_form="")
        if kind == "held rpm":
            return [sheets.held_rpm(ride, replace(style, gear_form=style.gear_form or "3"))]
        name = "indicated" if rng.random() < 0.2 else "speed"
        shown = 1.06 if name == "speed" and rng.random() < 0.15 else None
        return [sheets.readings(ride, style, name, shown)]
    if kind == "timed":
        return [sheets.timed(rng, style)]
    if kind == "dash":
        return [sheets.dash(rng, style)]
    if kind == "odometer":
        return [sheets.odometer(rng, style)]
    rate = float(rng.choice([1, 2, 5, 10]))
    seconds = float(rng.choice([10, 60, 180, 400], p=[0.2, 0.4, 0.3, 0.1]))
    ride = odd_ride(rng, ridden(rng, machine, which, rate, seconds))
    shift = 86400.0 * which
    if kind == "text log":
        channels = [["speed", "rpm"], ["speed"], ["rpm"], ["speed", "rpm", "indicated"], ["indicated", "rpm"]]
        chosen = channels[int(rng.choice(5, p=[0.6, 0.1, 0.05, 0.15, 0.1]))]
        absolute = bool(rng.random() < 0.5)
        return [logs.text_log(ride, style, absolute=absolute, shift_s=shift, channels=chosen)]
    if kind == "track":
        return [logs.track(ride, speed=bool(rng.random() < 0.7), rpm=bool(rng.random() < 0.8), shift_s=shift)]
    first = logs.track(ride, rpm=False, shift_s=shift) if kind == "track and rpm log" else logs.sentences(ride)
    absolute = bool(rng.random() < 0.5)
    late = float(rng.choice([0, 0.3, 17]))
    return [first, logs.text_log(ride, style, absolute=absolute, shift_s=shift * absolute + late, channels=["rpm"])]
