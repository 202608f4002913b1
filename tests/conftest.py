"""All tests: one process each, as a copy of one that runs tests may wait for a thread of a library."""

from __future__ import annotations

import pytest

from gearfit import second_process


@pytest.fixture(autouse=True)
def one_processor(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let commands that a test calls do without a second process."""
    monkeypatch.setattr(second_process, "_processors", lambda: 1)
