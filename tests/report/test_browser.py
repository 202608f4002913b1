"""The page in a real browser with the network denied."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from tests.report import browser as driven
from tests.report import example
from tests.report.conftest import Reports

#: axe-core's own levels of what a fault costs a reader.
SERIOUS = ("serious", "critical")


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    started = driven.start(tmp_path_factory.mktemp("profile"))
    yield started
    started.quit()


def opened(browser: Any, page: Path, width: int = 1280) -> Any:
    browser.set_window_size(width, 900)
    driven.asked(browser)
    driven.complaints(browser)
    browser.get(page.as_uri())
    return browser


def words(browser: Any) -> str:
    """All words that are to be seen."""
    return str(browser.execute_script("return document.body.innerText"))


def test_the_page_opens_and_asks_the_network_for_nothing(browser: Any, reports: Reports) -> None:
    opened(browser, reports(example.nasty_names)["report.html"])
    assert browser.find_element("tag name", "h1").text == f'{example.NASTY} & "Ωmega" $x_1^2$ 山'
    assert driven.complaints(browser) == []
    assert driven.asked(browser) == set()


def test_a_page_that_does_ask_would_be_noticed(browser: Any, tmp_path: Path) -> None:
    asking = tmp_path / "asking.html"
    asking.write_text('<img src="http://picture.invalid/x.png">', encoding="utf-8")
    opened(browser, asking)
    assert driven.asked(browser) == {"http://picture.invalid/x.png"}
    assert driven.complaints(browser) != []


def test_the_unit_switch_changes_every_speed(browser: Any, ridden: Path) -> None:
    opened(browser, ridden)
    before = words(browser)
    browser.find_element("css selector", "input[value=mph]").click()
    after = words(browser)
    # a timed span keeps the speeds by which it was asked for, in brackets behind those of the unit chosen
    for text, unit, other in ((before, "km/h", "mph"), (after, "mph", "km/h")):
        chosen, spans = re.subn(rf"(?<={unit})\s\((?:[\d.]+\sto\s)?[\d.]+\s{other}\)", "", text)
        assert spans > 0
        assert unit in chosen
        assert other not in chosen.replace(other, "", 1)  # the switch itself names both
    # 1 mile = 1.609344 km (1959): one number of the table of key figures against the other
    found = [re.search(r"Speed in 6th gear \[\S+ per 1000 rpm\]\s+([\d.]+)", text) for text in (before, after)]
    kmh, mph = (float(match[1]) for match in found if match is not None)
    assert kmh / mph == pytest.approx(1.609344, rel=2e-3)


@pytest.mark.parametrize("width", [390, 1280])
def test_nothing_is_wider_than_the_window(width: int, browser: Any, ridden: Path, three: Path) -> None:
    for page in (ridden, three):
        opened(browser, page, width)
        shown, wide = browser.execute_script("return [window.innerWidth, document.documentElement.scrollWidth]")
        assert wide <= shown


def test_a_tap_on_a_term_shows_its_meaning(browser: Any, ridden: Path) -> None:
    opened(browser, ridden)
    term = browser.find_element("css selector", "button.term[popovertarget=term-interval]")
    meaning = browser.find_element("id", "term-interval")
    assert not meaning.is_displayed()
    term.click()
    assert meaning.is_displayed()
    assert "95 of 100 such intervals" in meaning.text


def test_every_sentence_about_the_change_leads_to_its_picture(browser: Any, ridden: Path) -> None:
    opened(browser, ridden)
    browser.find_element("css selector", ".question a").click()
    assert browser.current_url.endswith("#change-per-gear")


#: Sizes in points of all words that are to be seen, those of pictures as they are scaled.
SIZES = """
    const sizes = [];
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walk.nextNode()) {
        const text = walk.currentNode.textContent.trim(), box = walk.currentNode.parentElement;
        if (!text || box.closest("script, style, title, .unseen") || !box.getClientRects().length) continue;
        const svg = box.closest("svg");
        const scale = svg ? svg.getBoundingClientRect().width / svg.viewBox.baseVal.width : 1;
        sizes.push([0.75 * scale * parseFloat(getComputedStyle(box).fontSize), text]);
    }
    return sizes;
"""


def on_paper(browser: Any, page: Path, script: str) -> Any:
    """What a script finds on the page as it is printed, on the width of A4 less the margins."""
    opened(browser, page)
    width = {"width": round(194 / 25.4 * 96), "height": 900, "deviceScaleFactor": 1, "mobile": False}
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", width)
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    found = browser.execute_script(script)
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    browser.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
    return found


#: Height of Letter, the lower of the two sheets, less the margins: mm.
SHEET_MM = 261.0


def test_page_one_stands_alone(browser: Any, ridden: Path, three: Path, reports: Reports) -> None:
    """Answer and first picture (of two setups key figures too) are on the first sheet of A4 and Letter."""
    top = "return document.querySelector('{}').getBoundingClientRect().top + scrollY"
    begins = "return getComputedStyle(document.querySelector('.story')).breakBefore"
    two = [ridden, *(reports(make)["report.html"] for make in (example.sheet_only, example.found_runs))]
    for page, behind in (*((page, ".story") for page in two), (three, "#key-figures")):
        assert on_paper(browser, page, top.format(behind)) / 96 * 25.4 < SHEET_MM, page
        assert on_paper(browser, page, begins) == "page"


def test_no_table_is_wider_than_the_paper(browser: Any, ridden: Path, three: Path, reports: Reports) -> None:
    widths = """return [...document.querySelectorAll("section .scroll")].filter(box => box.getClientRects().length)
        .map(box => [box.getAttribute("aria-label"), box.scrollWidth, box.clientWidth])"""
    for page in (ridden, three, reports(example.found_runs)["report.html"]):
        tables = on_paper(browser, page, widths)
        assert len(tables) > 3
        assert [found for found in tables if found[1] > found[2] + 1] == [], page


@pytest.mark.parametrize("setups", [2, 3])
def test_printed_words_can_be_read(setups: int, browser: Any, ridden: Path, three: Path) -> None:
    """Nothing is smaller than 8 pt on the width of A4 less the margins (our own measure)."""
    sizes = on_paper(browser, ridden if setups == 2 else three, SIZES)
    assert len(sizes) > 200
    assert [found for found in sizes if found[0] < 7.99] == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_serious_fault_for_those_who_read_otherwise(scheme: str, browser: Any, ridden: Path) -> None:
    where = os.environ.get("GEARFIT_AXE")
    if where is None:
        pytest.skip("GEARFIT_AXE does not name axe.min.js of axe-core")
    wanted = {"features": [{"name": "prefers-color-scheme", "value": scheme}]}
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", wanted)
    opened(browser, ridden)
    browser.execute_script(Path(where).read_text(encoding="utf-8"))
    result = browser.execute_async_script("axe.run().then(arguments[arguments.length - 1])")
    faults = [(f["id"], f["nodes"][0]["html"][:200]) for f in result["violations"] if f["impact"] in SERIOUS]
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})
    assert result["passes"]
    assert faults == []


def heard(browser: Any) -> list[tuple[str, str, dict[str, Any]]]:
    """Role, name and properties of all that a screen reader is given, in order (the accessibility tree, CDP)."""
    browser.execute_cdp_cmd("Accessibility.enable", {})
    nodes = browser.execute_cdp_cmd("Accessibility.getFullAXTree", {})["nodes"]
    browser.execute_cdp_cmd("Accessibility.disable", {})
    known = {node["nodeId"]: node for node in nodes}
    ordered, waiting = [], [nodes[0]]
    while waiting:
        node = waiting.pop()
        ordered.append(node)
        waiting += [known[child] for child in node.get("childIds", [])[::-1] if child in known]
    return [
        (
            node["role"]["value"],
            node.get("name", {}).get("value", "").replace("\N{NO-BREAK SPACE}", " "),
            {each["name"]: each["value"].get("value") for each in node.get("properties", [])},
        )
        for node in ordered
        if not node["ignored"]
    ]


def test_a_screen_reader_is_told_what_is_there(browser: Any, three: Path) -> None:
    opened(browser, three)
    found = heard(browser)
    roles = [role for role, _, _ in found]
    assert [role for role in roles if role in {"banner", "main", "contentinfo"}] == ["banner", "main", "contentinfo"]
    levels = [told["level"] for role, _, told in found if role == "heading"]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(later - earlier <= 1 for earlier, later in pairwise(levels))
    named = {
        "heading",
        "link",
        "button",
        "radio",
        "region",
        "table",
        "columnheader",
        "rowheader",
        "image",
    }
    assert named <= set(roles)
    assert [(role, told) for role, name, told in found if role in named and not name.strip()] == []
    pictures = [svg.accessible_name for svg in browser.find_elements("css selector", ".drawing svg")]
    assert len(pictures) == len(browser.find_elements("class name", "drawing"))
    # a finding has a number, and says of which setup
    assert [name for name in pictures if not re.search(r"\d", name) or "sprocket-52" not in name] == []
    titles = [name for role, name, _ in found if role == "heading"]
    assert {name for role, name, _ in found if role in {"table"}} <= set(titles)


def test_a_reading_is_a_mark_that_says_what_it_is(browser: Any, reports: Reports) -> None:
    """For the pointer, the keyboard and those who listen: its gear, speed in both units, engine speed."""
    opened(browser, reports(example.sheet_only)["report.html"])
    # sheet_only: 5000 rpm in each gear; first gear of 1.962 m and 14/43 does 1000 C / (60 i) m/s at 1000 rpm
    speed_mps = 5 * (1000 * example.CIRCUMFERENCE_M / 60 / example.ratios(14)[0] * (1 + 2e-4))
    marks = browser.find_elements("css selector", "#speed-against-rpm svg g[tabindex='0']")
    said = [mark.accessible_name.replace("\N{NO-BREAK SPACE}", " ") for mark in marks]
    assert f"1st gear: {speed_mps * 3.6:.1f} km/h, {speed_mps * 3600 / 1609.344:.1f} mph at 5000 rpm" in said


def test_the_keyboard_reaches_every_gear(browser: Any, reports: Reports) -> None:
    from selenium.webdriver.common.keys import Keys

    opened(browser, reports(example.two_setups)["report.html"])
    first = browser.find_element("css selector", "#change-per-gear svg g[tabindex='0']")
    browser.execute_script("arguments[0].focus()", first)
    said = []
    for _ in range(6):
        said.append(browser.switch_to.active_element.accessible_name)
        browser.switch_to.active_element.send_keys(Keys.TAB)
    assert re.fullmatch(r"1st gear: −7\.09\xa0% \(.*\)", said[0]), said
    assert [words.split(" ")[0] for words in said] == ["1st", "2nd", "3rd", "4th", "5th", "6th"]
    assert driven.complaints(browser) == []
