"""The tests with the lowest versions that pyproject.toml allows: `python -m tests.lowest [PYTHON ...] [-- PYTEST ...]`.

For each interpreter (the one that runs this unless others are named) a new virtual environment gets every dependency
of gearfit, and of its extras that a user may ask for, in exactly the lowest version allowed for that interpreter, and
what the tests need besides in versions that go with them; then pytest runs there. Old libraries use what newer ones
deprecate, so those warnings are no errors here. What follows `--` goes to pytest. The exit code is 1 where anything
failed.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from collections.abc import Iterable
from pathlib import Path
from tempfile import TemporaryDirectory

from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[1]
#: Extras of which the lowest versions are tested; the others are tools of those who work on gearfit.
TESTED = ("cluster", "parquet", "sound")
#: Tools that no test needs; stubs ask for newer versions of the libraries that they describe.
TOOLS = re.compile(r"gearfit|mypy|ruff|types-|[a-z]+-stubs")


def lowest(requirements: Iterable[str], version: str) -> list[str]:
    """Return `name==lowest` for each `name>=lowest` that counts for a version of Python such as "3.12"."""
    pinned = []
    for text in requirements:
        one = Requirement(text)
        bounds = list(one.specifier)
        if [bound.operator for bound in bounds] != [">="]:
            raise SystemExit(f"pyproject.toml: {text!r} states no lowest version; allowed is name>=version.")
        if one.marker is None or one.marker.evaluate({"python_version": version}):
            pinned.append(f"{one.name}=={bounds[0].version}")
    return pinned


def requirements(version: str) -> tuple[list[str], list[str]]:
    """Return the dependencies in their lowest versions, and what the tests need besides."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    extras = project["optional-dependencies"]
    asked = [*project["dependencies"], *(one for name in TESTED for one in extras[name])]
    besides = [text for text in (*extras["test"], *extras["notebook"]) if not TOOLS.match(text)]
    return lowest(asked, version), besides


def tested(python: str, pytest_arguments: list[str]) -> bool:
    """Whether the tests pass with the lowest versions on one interpreter."""
    tell = "import sys; print('{}.{}'.format(*sys.version_info))"
    version = subprocess.run([python, "-c", tell], check=True, capture_output=True, text=True).stdout.strip()
    pinned, besides = requirements(version)
    with TemporaryDirectory() as folder:
        subprocess.run([python, "-m", "venv", folder], check=True)
        own = f"{folder}/bin/python"
        print(f"== Python {version}, {python}: {', '.join(pinned)}", flush=True)
        for command in (
            ["-m", "pip", "install", "--quiet", "--disable-pip-version-check", *pinned, *besides],
            ["-m", "pytest", "-q", "-W", "default::DeprecationWarning", *pytest_arguments],
        ):
            if subprocess.run([own, *command], cwd=ROOT, check=False).returncode:
                return False
    return True


def main() -> int:
    words = sys.argv[1:]
    cut = words.index("--") if "--" in words else len(words)
    results = [tested(python, words[cut + 1 :]) for python in words[:cut] or [sys.executable]]
    return int(not all(results))


if __name__ == "__main__":
    sys.exit(main())
