"""Small files made on the spot."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from gearfit.importers import read_log
from gearfit.records.recording import Recording

Read = Callable[..., Recording]


@pytest.fixture
def read(tmp_path: Path) -> Read:
    """Write a file and read it."""

    def read(content: str | bytes, name: str = "ride") -> Recording:
        path = tmp_path / name
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return read_log(path)

    return read
