"""Writing: all files, the same bytes each time, an older report whole until the new one is."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from matplotlib.figure import Figure

from gearfit.errors import InputError
from gearfit.records.results import Analysis
from gearfit.report import write_report
from gearfit.report.figures import drawn as figures
from gearfit.report.figures import summary_picture
from tests.report import example
from tests.report.conftest import Reports


@pytest.mark.parametrize("make", example.ALL)
def test_every_file_is_written(make: Callable[[], Analysis], reports: Reports) -> None:
    analysis = make()
    written = reports(make)
    folder = written["report.html"].parent
    samples = [f"samples_{result.setup.name.replace(' ', '_')}.csv" for result in analysis.setups]
    assert list(written) == ["report.html", "summary.png", "summary.svg", "results.json", "gears.csv", *samples]
    assert folder.parts[-2:] == ("deep", "report")
    assert sorted(path.name for path in folder.iterdir()) == sorted([*written, ".gearfit.json"])
    assert all(path == folder / name for name, path in written.items())


def test_same_analysis_same_bytes(tmp_path: Path, reports: Reports) -> None:
    first = reports(example.nasty_names)
    second = write_report(example.nasty_names(), str(tmp_path / "two"))
    assert {name: path.read_bytes() for name, path in first.items()} == {
        name: path.read_bytes() for name, path in second.items()
    }


def test_a_reader_s_own_drawing_settings_change_nothing(tmp_path: Path, reports: Reports) -> None:
    import matplotlib as mpl

    plain = reports(example.without_gears)
    with mpl.rc_context({"font.size": 31, "axes.facecolor": "red", "savefig.dpi": 33, "text.parse_math": True}):
        other = write_report(example.without_gears(), tmp_path / "two")
    for name in ("report.html", "summary.png"):
        assert plain[name].read_bytes() == other[name].read_bytes()


def test_an_older_report_stays_whole_when_a_step_fails(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    written = write_report(example.without_gears(), tmp_path)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}

    def fail(figure: Figure) -> bytes:
        raise ZeroDivisionError("planned")

    monkeypatch.setattr(summary_picture, "png", fail)
    with pytest.raises(ZeroDivisionError):
        write_report(example.one_setup(), tmp_path)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before
    assert set(before) == {*written, ".gearfit.json"}


def test_progress_names_each_step(tmp_path: Path) -> None:
    steps: list[str] = []
    write_report(example.without_gears(), tmp_path, progress=steps.append)
    assert steps == [
        "tables",
        "samples",
        *(f"figure: {kind.title.lower()}" for kind in figures.KINDS),
        "summary picture",
        "page",
    ]


def test_a_file_in_the_way_is_one_clear_line(tmp_path: Path) -> None:
    (tmp_path / "report").write_text("not a folder", encoding="utf-8")
    with pytest.raises(InputError) as caught:
        write_report(example.without_gears(), tmp_path / "report")
    assert str(caught.value) == (
        f"{tmp_path / 'report'}: the report cannot be written (File exists). Free the place, or say where to write "
        "with --out."
    )
    assert (tmp_path / "report").read_text(encoding="utf-8") == "not a folder"


def test_files_can_be_read_by_others(reports: Reports) -> None:
    written = reports(example.without_gears)
    umask = os.umask(0)
    os.umask(umask)
    assert all(path.stat().st_mode & 0o777 == 0o666 & ~umask for path in written.values())
