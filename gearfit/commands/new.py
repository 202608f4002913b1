"""`gearfit new`: a ride folder ready to fill; on a terminal it asks for what the rider knows already."""

from __future__ import annotations

import argparse
import shlex
import sys
from typing import Final

from gearfit.commands.new_folder import make_folder, template
from gearfit.wording.terminal import one_line

_SETUPS: Final = ("before", "after")
#: Question, and the fields of the machine that its answer fills in; the answer is parted at what stands last.
_QUESTIONS: Final = (
    ("Teeth before, gearbox sprocket first, such as 14/43", ("before.final_drive.front", "before.final_drive.rear")),
    ("Teeth after, such as 13/43", ("after.final_drive.front", "after.final_drive.rear")),
    ("Primary drive, such as 74/25", ("gearbox.primary",)),
    ("Gears from first, such as 35/13 31/17 28/20", ("gearbox.gears",)),
    ("Tyre of the driven wheel, such as 140/70-17", ("tyre.size",)),
)
_UNITS: Final = {"": "kmh", "km/h": "kmh", "kmh": "kmh", "k": "kmh", "mph": "mph", "m": "mph"}


def run(arguments: argparse.Namespace, cautions: str) -> int:
    """Make the folder, and say what comes next."""
    bike, unit = _asked() if sys.stdin.isatty() and sys.stdout.isatty() else (None, "kmh")
    for path in make_folder(arguments.folder, unit, bike):
        print(one_line(f"made {path}"))
    folder = shlex.quote(str(arguments.folder))
    print("Now ride, put the logs into before and after, or write readings into readings.xlsx or the sheets there;")
    print(one_line(f"state what else you know in {arguments.folder / 'bike.toml'}, and run: gearfit report {folder}"))
    print(cautions)
    return 0


def _asked() -> tuple[str, str]:
    """Ask six questions; each may be left empty, and is asked again where its answer cannot be."""
    from gearfit.local_page.machine_form import fill_in, parsed

    print("Six questions; Enter skips one.")
    text = template("bike.toml").decode()
    for question, fields in _QUESTIONS:
        while True:
            answer = input(f"{question}: ").strip()
            parts = answer.replace("-", "/").split("/") if len(fields) > 1 and answer else [answer] * len(fields)
            if not answer:
                break
            document = parsed(text)
            names = [f"{setup}.{name}" if name.startswith("tyre") else name for name in fields for setup in _SETUPS]
            written = dict(zip(dict.fromkeys(names if len(fields) == 1 else fields), parts * 2, strict=False))
            bike, faults = fill_in(document, _SETUPS, written)
            if bike is not None and len(parts) == len(fields):
                text = document.as_string()
                break
            print(one_line(next(iter(faults.values()), "Write both, such as 14/43")))
    while (unit := _UNITS.get(input("Speeds in km/h or mph [km/h]: ").strip().lower())) is None:
        print("Write km/h or mph.")
    return text, unit
