"""The tests with the lowest versions that pyproject.toml allows: `python -m tests.lowest [PYTHON ...] [-- PYTEST ...]`.

For each interpreter (the one that runs this unless others are named) a new virtual environment gets every dependency
of gearfit, and of its extra `sound`, in exactly the lowest version allowed, and what the tests need besides in versions
that go with them; then pytest runs there. Old libraries use what newer ones deprecate, so those warnings are no errors
here. What follows `--` goes to pytest. The exit code is 1 where anything failed.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).resolve().parents[1]
#: Extras of which the lowest versions are tested; the others are tools of those who work on gearfit.
TESTED = ("sound",)
#: Tools that no test needs; stubs ask for newer versions of the libraries that they describe.
TOOLS = re.compile(r"gearfit|mypy|ruff|types-|[a-z]+-stubs")


def lowest(requirement: str) -> str:
    """Return `name==lowest` for `name>=lowest`."""
    found = re.fullmatch(r"([A-Za-z0-9_.-]+)>=([0-9.]+)", requirement)
    if found is None:
        raise SystemExit(f"pyproject.toml: {requirement!r} states no lowest version; allowed is name>=version.")
    return f"{found[1]}=={found[2]}"


def requirements() -> tuple[list[str], list[str]]:
    """Return the dependencies in their lowest versions, and what the tests need besides."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    extras = project["optional-dependencies"]
    pinned = [lowest(text) for text in (*project["dependencies"], *(one for name in TESTED for one in extras[name]))]
    besides = [text for text in (*extras["test"], *extras["notebook"]) if not TOOLS.match(text)]
    return pinned, besides


def tested(python: str, pytest_arguments: list[str]) -> bool:
    """Whether the tests pass with the lowest versions on one interpreter."""
    pinned, besides = requirements()
    with TemporaryDirectory() as folder:
        subprocess.run([python, "-m", "venv", folder], check=True)
        own = f"{folder}/bin/python"
        print(f"== {python}: {', '.join(pinned)}", flush=True)
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
