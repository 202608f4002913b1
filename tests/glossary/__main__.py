"""Writes docs/keys.md and docs/columns.md anew: `python -m tests.glossary`."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from tests.glossary import columns, keys

DOCS: Final = Path(__file__).resolve().parents[2] / "docs"
PAGES: Final = {"keys.md": keys.page, "columns.md": columns.page}

if __name__ == "__main__":
    for name, page in PAGES.items():
        (DOCS / name).write_text(page(), encoding="utf-8", newline="\n")
