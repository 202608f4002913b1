"""The tests against the built wheel: `python -m tests.wheel [PYTEST ...]`.

Builds the source archive and, from that, the wheel; looks into the wheel; installs it with what the tests need in a new
virtual environment, and looks whether an installation from the source leaves anything behind there; and runs pytest on
the unpacked source archive, out of which the package itself has been taken, so that `gearfit` can only come from the
wheel. What follows goes to pytest. The exit code is 1 where anything failed.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tarfile
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final
from zipfile import ZipFile

ROOT: Final = Path(__file__).resolve().parents[1]
#: Kinds of files that the wheel holds: code and what the code reads. Anything compiled would be another kind.
KINDS: Final = {".py", ".typed", ".json", ".j2", ".css", ".js", ".toml", ".csv", ".md"}
PIP: Final = ("-m", "pip", "install", "--quiet", "--disable-pip-version-check")
WHERE: Final = "import gearfit; print(gearfit.__file__)"


def run(*command: str | Path, cwd: Path | None = None) -> str:
    """Run a command to its end and return what it printed; SystemExit where it fails."""
    done = subprocess.run(list(map(str, command)), cwd=cwd, capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(f"{' '.join(map(str, command))}\n{done.stdout}{done.stderr}")
    return done.stdout


def copy_of_source(place: Path) -> Path:
    """Copy what git knows, so that nothing left over from an earlier build goes in."""
    for name in run("git", "ls-files", "-z", cwd=ROOT).split("\0"):
        if (ROOT / name).is_file():
            (place / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(ROOT / name, place / name)
    return place


def faults(wheel: Path, source: Path) -> list[str]:
    """Return what is wrong with the wheel: files of the package that are missing in it, and files of another kind."""
    with ZipFile(wheel) as archive:
        inside = {name for name in archive.namelist() if name.startswith("gearfit/")}
        (about,) = (name for name in archive.namelist() if name.endswith(".dist-info/WHEEL"))
        pure = "Root-Is-Purelib: true" in archive.read(about).decode()
    package = {path.relative_to(source).as_posix() for path in (source / "gearfit").rglob("*") if path.is_file()}
    return [
        *(f"missing in the wheel: {name}" for name in sorted(package - inside)),
        *(f"of no known kind: {name}" for name in sorted(inside) if Path(name).suffix not in KINDS),
        *([] if pure and wheel.name.endswith("-py3-none-any.whl") else [f"not pure Python: {wheel.name}"]),
    ]


def left_behind(python: Path, source: Path) -> list[str]:
    """Install from a copy of the source; return what that leaves in it, from where it would get into the next wheel."""
    before = set(source.rglob("*"))
    run(python, *PIP, "--no-deps", source)
    return [
        f"left behind by pip install: {path.relative_to(source)}" for path in sorted(set(source.rglob("*")) - before)
    ]


def main() -> int:
    """Build, look, install, test."""
    with TemporaryDirectory() as folder:
        place = Path(folder)
        source = copy_of_source(place / "source")
        run(sys.executable, "-m", "venv", place / "venv")
        python = place / "venv" / "bin" / "python"
        run(python, *PIP, "build")
        run(python, "-m", "build", "--outdir", place / "dist", source)
        (wheel,), (archive,) = (place / "dist").glob("*.whl"), (place / "dist").glob("*.tar.gz")
        print(f"built {archive.name} ({archive.stat().st_size:,} bytes), {wheel.name} ({wheel.stat().st_size:,} bytes)")
        if wrong := [*faults(wheel, source), *left_behind(python, source)]:
            print("\n".join(wrong))
            return 1
        run(python, *PIP, f"{wheel}[test]")
        with tarfile.open(archive) as file:
            file.extractall(place, filter="data")
        unpacked = place / archive.name.removesuffix(".tar.gz")
        shutil.rmtree(unpacked / "gearfit")
        print(f"testing {run(python, '-c', WHERE, cwd=unpacked).strip()} with the tests of {archive.name}", flush=True)
        return subprocess.run([python, "-m", "pytest", "-q", *sys.argv[1:]], cwd=unpacked, check=False).returncode


if __name__ == "__main__":
    sys.exit(main())
