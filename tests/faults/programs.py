"""Programs that the tests of faults run in a process of their own."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

REPOSITORY = Path(__file__).resolve().parents[2]


def start(program: str, *arguments: str, **environment: str) -> subprocess.Popen[str]:
    """Start a Python program that knows `gearfit` and `tests`; the caller waits for it."""
    return subprocess.Popen(
        [sys.executable, "-c", program, *arguments],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        encoding="utf-8",
        env=os.environ | {"PYTHONPATH": str(REPOSITORY), "PYTHONIOENCODING": "utf-8"} | environment,
    )


def run(program: str, *arguments: str, **environment: str) -> tuple[int, str, str]:
    """Run such a program to its end; return its code and what it printed."""
    process = start(program, *arguments, **environment)
    out, err = process.communicate(timeout=120)
    return process.returncode, out, err


def content(folder: Path) -> dict[str, bytes]:
    """Read every file below a folder."""
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
