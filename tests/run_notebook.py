"""Runs the notebooks. `python -m tests.run_notebook` stores fresh results in them, without times or versions."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import Any

import nbformat
from nbclient import NotebookClient

import gearfit

REPOSITORY = Path(__file__).resolve().parents[1]
NOTEBOOK = Path("notebooks") / "trail_bike.ipynb"
PLAN_NOTEBOOK = Path("notebooks") / "plan_a_swap.ipynb"


def read(path: Path) -> Any:
    """Return a notebook as it is stored."""
    return nbformat.read(path, as_version=4)  # type: ignore[no-untyped-call]


def run(path: Path) -> Any:
    """Return the notebook at `path` with the results of a fresh run in its own folder; the file stays as it is."""
    notebook = read(path)
    resources = {"metadata": {"path": path.parent}}
    client = NotebookClient(notebook, timeout=120, kernel_name="python3", record_timing=False, resources=resources)
    with tempfile.TemporaryDirectory() as profile:
        package = str(Path(gearfit.__file__).parents[1])
        client.execute(env=os.environ | {"IPYTHONDIR": profile, "PYTHONPATH": package})
    notebook.metadata["language_info"] = {"name": "python"}
    return notebook


if __name__ == "__main__":
    for notebook in (NOTEBOOK, PLAN_NOTEBOOK):
        nbformat.write(run(REPOSITORY / notebook), REPOSITORY / notebook)  # type: ignore[no-untyped-call]
