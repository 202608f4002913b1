"""What is saved is what the command line reads; nothing that another window or a person wrote is lost."""

from __future__ import annotations

import errno
import os
import re
from pathlib import Path
from typing import Any

import pytest

from gearfit.commands.cli import main
from gearfit.local_page import machine_form, remembered
from gearfit.local_page.garage import Garage
from gearfit.local_page.live import misfits
from gearfit.local_page.pages_open import LEAVING_S, SILENT_S, PagesOpen
from gearfit.local_page.stale import StaleError, revision, save
from gearfit.machine.bike_file import read_bike
from tests.local_page.served import BIKE, Window, bike_in


@pytest.fixture
def ride(tmp_path: Path) -> Path:
    return bike_in(tmp_path)


@pytest.fixture
def window(ride: Path) -> Window:
    return Window(ride.parent)


def shown(window: Window) -> str:
    found = re.search(r'name="revision" value="(\w+)"', window.get("/bike/tarn/machine").text)
    assert found
    return found[1]


def test_comments_and_order_of_a_hand_written_file_stay(ride: Path, window: Window) -> None:
    answer = window.post(
        "/bike/tarn/machine", data={"revision": shown(window), "after.final_drive.front": "15", "tyre.none": "x"}
    )
    assert answer.status_code == 200
    assert (ride / "bike.toml").read_text("utf-8") == BIKE.replace("front = 13", "front = 15")


def test_each_field_goes_where_the_command_line_reads_it(ride: Path, window: Window) -> None:
    written = {
        "name": "Corrie 400",
        "before.final_drive.front": "15",
        "before.final_drive.rear": "44",
        "after.final_drive.front": "15",
        "after.final_drive.rear": "46",
        "before.tyre.size": "150/70-17",
        "after.tyre.size": "150/70-17",
        "gearbox.primary": "2,692",
        "gearbox.gears": "34/12, 31/16; 28/19 26/22, 24/23, 0.929",
        "final_drive.slack_mm": "30 to 40",
        "final_drive.chain": "520",
        "final_drive.links": "112",
        "engine.limit_rpm": "11000",
        "engine.strokes": "4",
        "mass.total_kg": "271,5",
        "speedometer.driven_from": "gearbox output",
    }
    answer = window.post("/bike/tarn/machine", data={"revision": shown(window), **written})
    assert answer.status_code == 200
    bike = read_bike(ride / "bike.toml")
    assert bike.name == "Corrie 400"
    before, after = bike.setups
    assert (before.final_drive.front, before.final_drive.rear) == (15, 44)
    assert (after.final_drive.front, after.final_drive.rear) == (15, 46)
    assert before.tyre.size == after.tyre.size == "150/70-17"
    assert bike.gearbox.primary == 2.692
    assert bike.gearbox.gears is not None
    assert len(bike.gearbox.gears) == 6
    assert bike.final_drive.slack_mm == (30.0, 40.0)
    assert bike.total_kg == 271.5
    assert bike.engine.strokes == 4
    assert bike.speedometer.driven_from == "gearbox output"
    again = window.get("/bike/tarn/machine").text
    for value in ("Corrie 400", "34/12, 31/16, 28/19, 26/22, 24/23, 0.929", "2.692", "30, 40", "271.5"):
        assert f'value="{value}"' in again


def test_an_emptied_field_is_left_out(ride: Path, window: Window) -> None:
    window.post("/bike/tarn/machine", data={"revision": shown(window), "gearbox.primary": ""})
    assert read_bike(ride / "bike.toml").gearbox.primary is None


@pytest.mark.parametrize(
    ("field", "text", "said"),
    [
        ("before.final_drive.front", "fourteen", "whole numbers from 3 to 200"),
        ("after.final_drive.rear", "7", "at least as many teeth"),
        ("before.tyre.size", "big", "no size code known here"),
        ("gearbox.gears", "31/17, 35/13", "become smaller from gear to gear"),
        ("mass.total_kg", "5", "from 20 to 2000 kg"),
    ],
)
def test_a_mistake_is_said_at_its_field_and_nothing_is_saved(
    ride: Path, window: Window, field: str, text: str, said: str
) -> None:
    answer = window.post("/bike/tarn/machine", data={"revision": shown(window), field: text, "name": "New name"})
    assert answer.status_code == 422
    at = re.search(rf'id="fault-{re.escape(field)}"[^>]*>([^<]*)<', answer.text)
    assert at
    assert said in at[1]
    assert f'value="{text}"' in answer.text
    assert 'value="New name"' in answer.text
    assert (ride / "bike.toml").read_text("utf-8") == BIKE


def test_a_file_that_is_no_toml_is_not_touched(ride: Path, window: Window) -> None:
    (ride / "bike.toml").write_text("name = Tarn\n", "utf-8")
    text = window.get("/bike/tarn/machine").text
    assert "bike.toml, line 1" in text
    assert (ride / "bike.toml").read_text("utf-8") == "name = Tarn\n"
    assert window.get("/").status_code == 200


def test_two_windows_on_one_machine_lose_nothing(ride: Path, window: Window) -> None:
    first = second = shown(window)
    window.post("/bike/tarn/machine", data={"revision": first, "after.final_drive.front": "12"})
    answer = window.post("/bike/tarn/machine", data={"revision": second, "after.final_drive.front": "15"})
    assert answer.status_code == 409
    assert "Saved elsewhere meanwhile" in answer.text
    assert re.search(r"<td>12</td><td>15</td>", answer.text), "both versions are shown"
    assert read_bike(ride / "bike.toml").setups[1].final_drive.front == 12
    found = re.search(r'name="revision" value="(\w+)"', answer.text)
    assert found
    window.post("/bike/tarn/machine", data={"revision": found[1], "after.final_drive.front": "15"})
    assert read_bike(ride / "bike.toml").setups[1].final_drive.front == 15


def sheet(window: Window, place: str = "before", file: str = "holds.csv") -> str:
    text = window.get("/bike/tarn/readings").text
    found = re.search(rf'data-save="[^"]*/{place}/{file}"[^>]*data-revision="(\w+)"', text)
    assert found
    return found[1]


def test_a_sheet_is_the_file_that_the_command_line_reads(ride: Path, window: Window) -> None:
    rows = [["3rd", "5000", "50"], ["", "", ""], [" 4th ", "5000", "~60"]]
    sent = {"head": ["gear", "rpm", "speed_mph"], "rows": rows, "revision": sheet(window)}
    assert window.post("/bike/tarn/readings/before/holds.csv", json=sent).status_code == 200
    written = (ride / "before" / "holds.csv").read_text("utf-8")
    assert written == "gear,rpm,speed_mph\n3rd,5000,50\n4th,5000,~60\n"
    assert main(["check", str(ride / "before" / "holds.csv")]) == 0
    assert 'value="3rd"' in window.get("/bike/tarn/readings").text


def test_two_windows_on_one_sheet_lose_nothing(ride: Path, window: Window) -> None:
    old = sheet(window)
    head = ["gear", "rpm", "speed_kmh"]
    mine = {"head": head, "rows": [["1", "5000", "25"]], "revision": old}
    theirs = {"head": head, "rows": [["2", "5000", "36"]], "revision": old}
    assert window.post("/bike/tarn/readings/before/holds.csv", json=theirs).status_code == 200
    answer = window.post("/bike/tarn/readings/before/holds.csv", json=mine)
    assert answer.status_code == 409
    assert answer.get_json()["rows"] == [["2", "5000", "36"]]
    assert "2,5000,36" in (ride / "before" / "holds.csv").read_text("utf-8")
    mine["revision"] = answer.get_json()["revision"]
    assert window.post("/bike/tarn/readings/before/holds.csv", json=mine).status_code == 200


def test_a_sheet_of_another_program_keeps_its_headers_and_delimiter(ride: Path, window: Window) -> None:
    (ride / "before" / "holds.csv").write_text("Gang;Drehzahl;km/h;Notiz\n3;5000;61,5;kalt\n", "utf-8")
    text = window.get("/bike/tarn/readings").text
    assert 'data-delimiter=";"' in text
    assert 'value="kalt"' in text
    sent = {"head": ["Gang", "Drehzahl", "km/h", "Notiz"], "rows": [["3", "5000", "61,5", "kalt"]], "delimiter": ";"}
    window.post("/bike/tarn/readings/before/holds.csv", json={**sent, "revision": sheet(window)})
    assert (ride / "before" / "holds.csv").read_text("utf-8") == "Gang;Drehzahl;km/h;Notiz\n3;5000;61,5;kalt\n"


def test_a_full_disk_leaves_the_older_file_whole(ride: Path, window: Window, monkeypatch: pytest.MonkeyPatch) -> None:
    sent = {"head": ["gear", "rpm", "speed_kmh"], "rows": [["1", "5000", "25"]], "revision": sheet(window)}
    older = (ride / "before" / "holds.csv").read_bytes()

    def full(*_: Any) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    answer = window.post("/bike/tarn/readings/before/holds.csv", json=sent)
    assert answer.status_code == 400
    assert "No space left on device" in answer.get_json()["fault"]
    assert (ride / "before" / "holds.csv").read_bytes() == older


def test_a_stale_save_changes_nothing(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    version = save(path, "one", revision(""))
    path.write_text("by an editor", "utf-8")
    with pytest.raises(StaleError) as caught:
        save(path, "two", version)
    assert caught.value.theirs == "by an editor"
    assert path.read_text("utf-8") == "by an editor"


def test_no_file_takes_the_place_of_another_and_removed_ones_are_kept(ride: Path, window: Window) -> None:
    for data in (b"one", b"two"):
        window.post("/bike/tarn/logs/before?name=ride.csv", data=data)
    assert (ride / "before" / "ride.csv").read_bytes() == b"one"
    assert (ride / "before" / "ride (2).csv").read_bytes() == b"two"
    window.post("/bike/tarn/logs/before/change", data={"name": "ride.csv", "to": "after"})
    assert (ride / "after" / "ride.csv").read_bytes() == b"one"
    window.post("/bike/tarn/logs/after/change", data={"name": "ride.csv", "to": ""})
    window.post("/bike/tarn/logs/before/change", data={"name": "ride (2).csv", "to": ""})
    assert sorted(path.name for path in (ride / "removed").iterdir()) == ["ride (2).csv", "ride.csv"]
    assert not (ride / "before" / "ride (2).csv").exists()
    assert window.post("/bike/tarn/logs/before/change", data={"name": "../bike.toml", "to": ""}).status_code == 400


def test_a_new_bike_is_a_ride_folder(tmp_path: Path) -> None:
    window = Window(tmp_path)
    assert "No bike yet" in window.get("/").text
    answer = window.post("/bikes", data={"name": 'Corrie "400" / blue'})
    assert answer.status_code == 302
    (folder,) = Garage(tmp_path).folders().values()
    assert folder == tmp_path / "Corrie 400 blue"
    assert read_bike(folder / "bike.toml").name == 'Corrie "400" / blue'
    assert "# Teeth at the gearbox" in (folder / "bike.toml").read_text("utf-8")
    assert window.post("/bikes", data={"name": "Corrie 400 blue"}).status_code == 400
    for name in ("", "///", "con"):
        assert window.post("/bikes", data={"name": name}).status_code == 400


def test_one_ride_folder_is_opened_as_it_is(ride: Path) -> None:
    window = Window(ride)
    assert "Tarn 350" in window.get("/").text
    assert window.get("/bike/this/machine").status_code == 200
    assert window.post("/bikes", data={"name": "Other"}).status_code == 400


def test_the_prediction_follows_the_fields(window: Window) -> None:
    fields = {"after.final_drive.front": "12"}
    found = window.post("/bike/tarn/predict", json={"fields": fields, "known": "5300 rpm at 70 mph"}).get_json()
    assert "−14.29 %" in found["lines"][0]
    # by hand: 5300 x 14 / 12
    assert "At 113 km/h in that gear: 5300 becomes 6183 rpm." in found["lines"]
    found = window.post("/bike/tarn/predict", json={"fields": fields, "known": "fast"}).get_json()
    assert "5300 rpm at 70 mph" in found["faults"]["known"]
    found = window.post("/bike/tarn/predict", json={"fields": {"after.final_drive.front": "x"}}).get_json()
    assert "whole numbers" in found["faults"]["after.final_drive.front"]
    found = window.post("/bike/tarn/predict", json={"fields": {"before.final_drive.front": ""}}).get_json()
    assert found["lines"] == ["Write the teeth of both sprockets, before and after: the prediction stands here."]


def test_the_reading_that_does_not_fit_is_pointed_at(ride: Path) -> None:
    head = ("gear", "rpm", "speed_mph")
    rows = [("3rd", "4000", "33"), ("3rd", "5000", "41"), ("3rd", "5250", "46"), ("3rd", "6000", "49")]
    assert list(misfits(rows, head, None)) == [2]
    assert misfits(rows, head, None)[2] == "third gear: 43 would fit the others, not 46. Right as written?"
    # one reading in each gear: the stated gearbox ties them
    bike = read_bike(ride / "bike.toml")
    ratios = bike.gearbox.gears
    assert ratios is not None
    one_each = [(str(gear), "5000", f"{130 / ratio:.0f}") for gear, ratio in enumerate(ratios, 1)]
    assert misfits(one_each, head, bike) == {}
    one_each[3] = ("4", "5000", f"{145 / ratios[3]:.0f}")
    assert list(misfits(one_each, head, bike)) == [3]
    assert misfits(one_each, head, None) == {}
    assert misfits([("3", "x", ""), ("", "", ""), ("3",)], head, bike) == {}


def test_values_stand_in_their_fields_as_they_are_in_the_file() -> None:
    document = machine_form.parsed(BIKE)
    found = machine_form.texts(document, ("before", "after"))
    assert found["before.final_drive.front"] == "14"
    assert found["after.final_drive.front"] == "13"
    assert found["after.final_drive.rear"] == "43"


def test_a_change_of_the_first_setup_leaves_the_second_as_it_was() -> None:
    document = machine_form.parsed("[final_drive]\nfront = 14\nrear = 43\n")
    bike, faults = machine_form.fill_in(document, ("before", "after"), {"before.final_drive.rear": "45"})
    assert faults == {}
    assert bike is not None
    assert [setup.final_drive.rear for setup in bike.setups] == [45, 43]


def test_it_ends_with_the_last_page_and_not_before() -> None:
    now = 0.0
    pages = PagesOpen(lambda: None, lambda: now)
    assert not pages.over, "no page was open yet"
    pages.here("page-one-1")
    pages.here("page-two-2")
    pages.here("<script>")
    pages.gone("page-one-1")
    now = LEAVING_S + 1
    assert not pages.over
    pages.gone("page-two-2")
    pages.here("page-six-6")  # left for the next page
    now += LEAVING_S + 1
    assert not pages.over
    now += SILENT_S
    assert pages.over


def test_folder_and_unit_are_remembered(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(remembered, "user_config_path", lambda *_, **__: tmp_path / "config")
    assert remembered.remembered_unit() == "kmh"
    window = Window(tmp_path)
    assert window.post("/unit", data={"unit": "mph", "back": "//example.org"}).headers["Location"] == "/"
    assert remembered.remembered_unit() == "mph"
    remembered.remember(folder="/somewhere")
    assert remembered.remembered() == {"unit": "mph", "folder": "/somewhere"}
    (tmp_path / "config" / "open.json").write_text("{", "utf-8")
    assert remembered.remembered() == {}


def test_without_a_folder_one_is_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(remembered, "user_config_path", lambda *_, **__: tmp_path / "config")
    assert main(["open"]) == 1
    assert "no folder is given and none is remembered" in capsys.readouterr().err
    (tmp_path / "file").touch()
    assert main(["open", str(tmp_path / "file")]) == 1
    assert "found a file; allowed is a folder" in capsys.readouterr().err
