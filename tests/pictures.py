"""Draws the README's picture anew from the sample ride: `python -m tests.pictures`."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

from PIL import Image

import gearfit

REPOSITORY = Path(__file__).resolve().parents[1]
#: Sample ride -> where its summary picture goes.
PICTURES = {"trail-bike": REPOSITORY / "docs" / "images" / "summary-trail-bike.png"}


def main() -> None:
    for name, picture in PICTURES.items():
        analysis = gearfit.analyse(gearfit.read_folder(REPOSITORY / "sample_logs" / name))
        with TemporaryDirectory() as folder:
            written = gearfit.write_report(analysis, folder)
            Image.open(written["summary.png"]).save(picture, optimize=True)  # packed tighter: the clone carries it
        print(f"wrote {picture.relative_to(REPOSITORY)}")


if __name__ == "__main__":
    main()
