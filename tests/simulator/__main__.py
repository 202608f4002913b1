"""Write the sample folders anew: `python -m tests.simulator [FOLDER]`."""

from __future__ import annotations

import argparse
from pathlib import Path

from tests.simulator.samples import write_samples


def main(argv: list[str] | None = None) -> int:
    """Write the sample folders and say where they lie."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.simulator",
        description="Write the invented sample rides anew, byte for byte the same each time.",
        epilog="example: python -m tests.simulator sample_logs",
    )
    parser.add_argument("folder", nargs="?", type=Path, default=Path("sample_logs"), metavar="FOLDER")
    folder: Path = parser.parse_args(argv).folder
    write_samples(folder)
    print(f"Sample rides written to {folder}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
