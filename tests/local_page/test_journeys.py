"""The whole job in a real browser, without a terminal: what a person does, and what they read then."""

from __future__ import annotations

import base64
import json
import os
import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from gearfit.machine.bike_file import read_bike
from tests.local_page.served import BIKE, bike_in, serving
from tests.report import browser as chromium

SAMPLE = Path(__file__).parents[2] / "sample_logs" / "trail-bike"
AXE = os.environ.get("GEARFIT_AXE")
#: By hand: 5000 rpm in each gear of the invented Tarn 350 with 14/43 rolls 1.95 m a turn; 13 teeth in front after.
BEFORE = {1: 27, 2: 40, 3: 52, 4: 61, 5: 73, 6: 82}


@pytest.fixture(scope="module")
def chrome(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    started = chromium.start(tmp_path_factory.mktemp("profile"))
    yield started
    started.quit()


class Person:
    """Somebody at the browser."""

    def __init__(self, chrome: Any, entrance: str) -> None:
        self.chrome = chrome
        self.chrome.set_window_size(1280, 900)
        self.chrome.get(entrance)

    def find(self, selector: str) -> Any:
        return self.chrome.find_element("css selector", selector)

    def see(self, text: str, seconds: float = 90) -> str:
        """Wait until the page shows a text; return all that it shows then."""
        shown = ""

        def there() -> bool:
            nonlocal shown
            shown = self.text()
            return text in shown

        self.until(there, seconds, f"never shown: {text}")
        return shown

    def text(self) -> str:
        """What the page shows, once it is loaded."""
        script = "return document.readyState === 'complete' ? document.body.innerText : ''"
        return str(self.chrome.execute_script(script))

    def see_times(self, text: str, times: int) -> None:
        """Wait until the page shows a text so many times."""
        self.until(lambda: self.text().count(text) == times, 90, f"not {times} times: {text}")

    def press_on(self, file: str, value: str) -> None:
        """Press a button of one file of the logs."""
        items = self.chrome.find_elements("css selector", "li[draggable]")
        item = next(item for item in items if item.get_attribute("data-name") == file)
        item.find_element("css selector", f'button[value="{value}"]').click()

    def until(self, done: Callable[[], bool], seconds: float = 30, message: str = "") -> None:
        """Wait until something is so; a page that is just loaded again is asked once more."""
        from selenium.common.exceptions import JavascriptException, StaleElementReferenceException
        from selenium.webdriver.support.ui import WebDriverWait

        passing = (StaleElementReferenceException, JavascriptException)
        WebDriverWait(self.chrome, seconds, ignored_exceptions=passing).until(lambda _: done(), message)

    def go(self, link: str) -> None:
        self.chrome.find_element("link text", link).click()

    def write(self, selector: str, text: str) -> None:
        field = self.find(selector)
        field.clear()
        field.send_keys(text)

    def save(self) -> None:
        self.find("button.main").click()

    def paste(self, selector: str, text: str) -> None:
        """Paste a text as the browser does."""
        self.chrome.execute_script(
            "const data = new DataTransfer(); data.setData('text/plain', arguments[1]);"
            "const how = {clipboardData: data, bubbles: true, cancelable: true};"
            "arguments[0].dispatchEvent(new ClipboardEvent('paste', how));",
            self.find(selector),
            text,
        )

    def barriers(self) -> list[str]:
        """What axe-core finds serious on the page."""
        if AXE is None:
            return []
        # The policy of the pages lets no script in but their own; the driver's scripts run all the same.
        self.chrome.execute_script(Path(AXE).read_text("utf-8"))
        found = self.chrome.execute_async_script("axe.run({iframes: false}).then(arguments[0])")
        return [rule["id"] for rule in found["violations"] if rule["impact"] in ("serious", "critical")]


def sheet_of(setup: str, file: str = "holds.csv") -> str:
    return f'.sheet[data-save*="/{setup}/{file}"]'


def test_a_notebook_from_a_new_bike_to_the_answer(chrome: Any, tmp_path: Path) -> None:
    with serving(tmp_path) as entrance:
        person = Person(chrome, entrance)
        chromium.asked(chrome)
        person.write("#name", "Tarn 350")
        person.save()
        # teeth alone give a prediction, while typing
        for setup, front in (("before", "14"), ("after", "13")):
            person.write(f'[id="{setup}.final_drive.front"]', front)
            person.write(f'[id="{setup}.final_drive.rear"]', "43")
        person.write("#known", "5300 rpm at 110 km/h")
        person.see("5300 becomes 5708 rpm")
        assert "−7.14 %" in person.find("#live").text
        person.save()
        person.see("Saved.")
        # readings, typed from cell to cell with one misread, as a person writes them
        person.go("Readings")
        first = person.find(f"{sheet_of('before')} tbody input")
        first.click()
        from selenium.webdriver.common.keys import Keys

        for gear, kmh in BEFORE.items():
            for rpm in (4000, 5000, 6000):
                shown = round(kmh * rpm / 5000) + (6 if (gear, rpm) == (3, 5000) else 0)
                for cell in (str(gear), str(rpm), str(shown)):
                    chrome.switch_to.active_element.send_keys(cell, Keys.ENTER)
        said = person.see("third gear: 52 would fit the others, not 58. Right as written?")
        assert said.count("would fit the others") == 1
        # the other side pasted from a spreadsheet
        pasted = "\n".join(
            f"{gear}\t{rpm}\t{kmh * rpm / 5000 * 13 / 14:.0f}"
            for gear, kmh in BEFORE.items()
            for rpm in (4000, 5000, 6000)
        )
        person.paste(f"{sheet_of('after')} tbody input", pasted)
        person.see("Saved.")
        # the misread cell is mended
        cell = person.find(f"{sheet_of('before')} tr.odd td:nth-child(3) input")
        cell.clear()
        cell.send_keys("52")
        chrome.execute_script("arguments[0].blur()", cell)
        person.until(lambda: not chrome.find_elements("css selector", "tr.odd"))
        person.until(lambda: "3,5000,52" in (tmp_path / "Tarn 350" / "before" / "holds.csv").read_text("utf-8"))
        # the answer
        person.go("Report")
        said = person.see("the teeth predict −7.1")
        assert "All 6 gears moved alike" in said
        chrome.switch_to.frame(person.find("iframe"))
        assert "Tarn 350" in person.see("Gearing report")
        chrome.switch_to.default_content()
        # a tooth is changed, and the report follows by itself
        person.go("Machine")
        person.write('[id="after.final_drive.rear"]', "45")
        person.save()
        person.see("Saved.")
        person.go("Report")
        person.see("which does not agree")
        # printed
        person.go("Open alone, to print or save as PDF")
        chrome.switch_to.window(chrome.window_handles[-1])
        assert base64.b64decode(chrome.print_page()).startswith(b"%PDF")
        chrome.close()
        chrome.switch_to.window(chrome.window_handles[0])
        # what to ride next
        person.go("Plan")
        person.save()
        person.see("HOLD, IN EACH SETUP")
        person.go("test_card_before.html")
        chrome.switch_to.window(chrome.window_handles[-1])
        person.see("Tarn 350")
        chrome.close()
        chrome.switch_to.window(chrome.window_handles[0])
        base = entrance.partition("/enter")[0]
        assert {address for address in chromium.asked(chrome) if not address.startswith(base)} == set()
        assert chromium.complaints(chrome) == []


def test_logs_dropped_on_the_wrong_side_and_moved(chrome: Any, tmp_path: Path) -> None:
    text = (SAMPLE / "bike.toml").read_text("utf-8")
    ride = bike_in(tmp_path, "fellside", text)
    with serving(tmp_path) as entrance:
        person = Person(chrome, entrance)
        person.go("Fellside 300")
        person.go("Logs")
        both = [str(SAMPLE / setup / file) for setup in ("before",) for file in ("ride.gpx", "rpm.csv")]
        person.find('[data-setup="after"] input[type=file]').send_keys("\n".join(both))
        said = person.see("track of a satellite receiver")
        assert "log (values over time)" in said
        prepared = 2  # empty sheets on each side
        for moved, file in enumerate(("ride.gpx", "rpm.csv"), 1):
            person.press_on(file, "before")
            person.see_times("Move to after", prepared + moved)
        for file in ("ride.gpx", "rpm.csv"):
            assert (ride / "before" / file).read_bytes() == (SAMPLE / "before" / file).read_bytes()
        both = [path.replace("/before/", "/after/") for path in both]
        person.find('[data-setup="after"] input[type=file]').send_keys("\n".join(both))
        person.see_times("Move to before", prepared + 2)
        # no ride at all is one line beside its name
        (tmp_path / "letter.csv").write_text("Dear Sir,\nthe chain squeaks.\n", "utf-8")
        person.find('[data-setup="after"] input[type=file]').send_keys(str(tmp_path / "letter.csv"))
        person.see("letter.csv: ")
        person.press_on("letter.csv", "")
        person.until(lambda: (ride / "removed" / "letter.csv").is_file())
        person.go("Report")
        said = person.see("the teeth predict −4.00 %")
        assert re.search(r"−(3\.9\d|4\.0\d) %", said)


def test_by_keyboard_alone_on_a_narrow_screen(chrome: Any, tmp_path: Path) -> None:
    ride = bike_in(tmp_path)
    with serving(tmp_path) as entrance:
        person = Person(chrome, entrance)
        chrome.set_window_size(390, 844)
        from selenium.webdriver.common.action_chains import ActionChains
        from selenium.webdriver.common.keys import Keys

        def press(*keys: str) -> None:
            ActionChains(chrome).send_keys(*keys).perform()

        def tab_to(text: str) -> None:
            for _ in range(60):
                press(Keys.TAB)
                active = chrome.switch_to.active_element
                if text in (active.text, active.get_attribute("id")):
                    return
            raise AssertionError(f"Tab never came to {text}")

        tab_to("Tarn 350")
        press(Keys.ENTER)
        person.see("Gearbox sprocket")
        tab_to("after.final_drive.front")
        press("15")  # Tab has selected what stood there
        tab_to("Save")
        press(Keys.ENTER)
        person.see("Saved.")
        assert read_bike(ride / "bike.toml").setups[1].final_drive.front == 15
        for page in ("Machine", "Readings", "Logs", "Report", "Plan"):
            person.go(page)
            assert chrome.execute_script("return document.documentElement.scrollWidth <= innerWidth"), page
            assert person.barriers() == [], page
        chrome.get(entrance)
        assert person.barriers() == []


def test_a_mistake_and_another_window(chrome: Any, tmp_path: Path) -> None:
    ride = bike_in(tmp_path)
    with serving(tmp_path) as entrance:
        person = Person(chrome, entrance)
        person.go("Tarn 350")
        person.write('[id="before.tyre.size"]', "round")
        person.see("no size code known here")
        assert person.find('[id="before.tyre.size"]').get_attribute("aria-invalid") == "true"
        person.save()
        person.see("Not saved")
        assert (ride / "bike.toml").read_text("utf-8") == BIKE
        person.go("Readings")
        (ride / "before" / "holds.csv").write_text("gear,rpm,speed_kmh\n2,5000,40\n", "utf-8")
        person.find(f"{sheet_of('before')} tbody input").send_keys("3")
        person.see("Another window or program saved this sheet meanwhile")
        assert (ride / "before" / "holds.csv").read_text("utf-8") == "gear,rpm,speed_kmh\n2,5000,40\n"
        chrome.find_element("xpath", "//button[.='Keep mine']").click()
        person.see("Saved.")
        assert (ride / "before" / "holds.csv").read_text("utf-8") == "gear,rpm,speed_kmh\n3,,\n"


def test_lines_of_a_note_are_pasted_as_cells(chrome: Any, tmp_path: Path) -> None:
    ride = bike_in(tmp_path)
    with serving(tmp_path) as entrance:
        person = Person(chrome, entrance)
        person.go("Tarn 350")
        person.go("Readings")
        note = "3rd 5000 rpm 50 mph\n4th gear, 5000rpm @ 60 mph\n5 5000 71\n"
        person.paste(f"{sheet_of('before')} tbody input", note)
        person.see("Saved.")
        written = (ride / "before" / "holds.csv").read_text("utf-8")
        assert written == "gear,rpm,speed_kmh\n3,5000,50\n4,5000,60\n5,5000,71\n"


def test_it_starts_as_a_command_and_ends_with_its_last_page(tmp_path: Path) -> None:
    import signal
    import subprocess
    import sys

    program = shutil.which("gearfit") or sys.executable
    arguments = [program, "open"] if program.endswith("gearfit") else [program, "-m", "gearfit", "open"]
    with subprocess.Popen(
        [*arguments, str(tmp_path / "bikes"), "--no-window"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        assert re.fullmatch(r"http://127\.0\.0\.1:\d+/enter/[\w-]+\n", process.stdout.readline())
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=30)
        assert process.returncode in (0, 130)
        assert "Traceback" not in err
    assert (tmp_path / "bikes").is_dir()
    assert json.dumps(sorted(path.name for path in tmp_path.iterdir())) == '["bikes"]'
