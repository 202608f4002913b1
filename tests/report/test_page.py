"""The page: whole, escaped, self-contained, in both units of speed."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from gearfit.comparison.timed_spans import compare_spans
from gearfit.records.results import Analysis, Comparison, Finding
from gearfit.report import write_report
from gearfit.report.page import story
from gearfit.report.page.evidence import Evidence, links
from tests.report import example
from tests.report.conftest import Reports


class Elements(HTMLParser):
    """Collects start tags with their attributes, and the text."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def page_of(make: Callable[[], Analysis], reports: Reports) -> str:
    return reports(make)["report.html"].read_text(encoding="utf-8")


def read(text: str) -> tuple[list[tuple[str, dict[str, str | None]]], str]:
    parser = Elements()
    parser.feed(text)
    return parser.tags, " ".join(" ".join(parser.text).split())


@pytest.mark.parametrize("make", example.ALL)
def test_nothing_is_loaded_from_anywhere(make: Callable[[], Analysis], reports: Reports) -> None:
    text = page_of(make, reports)
    tags, _ = read(text)
    for tag, attributes in tags:
        assert tag not in {"iframe", "object", "embed", "base", "form"}
        for name, value in attributes.items():
            assert not name.startswith("on")
            if name in {"src", "href", "xlink:href", "srcset", "action", "poster", "data", "background"}:
                assert (value or "").startswith(("data:", "#")), (tag, name, value)
    assert set(re.findall(r"url\((.)", text)) <= {"#"}
    assert "@import" not in text
    assert "http:" not in text
    assert "https:" not in text


def test_no_two_elements_share_an_id_and_every_link_leads_somewhere(reports: Reports) -> None:
    tags, _ = read(page_of(example.three_setups, reports))
    ids = [attributes["id"] for _, attributes in tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    links = [attributes["href"] or "" for tag, attributes in tags if tag == "a"]
    assert {link.removeprefix("#") for link in links} <= set(ids)
    assert {attributes["popovertarget"] for _, attributes in tags if "popovertarget" in attributes} <= set(ids)


def test_only_the_script_of_the_page_may_run(reports: Reports) -> None:
    text = page_of(example.nasty_names, reports)
    (script,) = re.findall(r"<script>(.*?)</script>", text, re.DOTALL)
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src 'sha256-{digest}'" in text


def test_markup_in_names_shows_as_text(reports: Reports) -> None:
    text = page_of(example.nasty_names, reports)
    assert text.count("<script") == 1  # script of the page itself
    tags, words = read(text)
    assert ("h1", {}) in tags
    assert f'{example.NASTY} & "Ωmega" $x_1^2$ 山' in words
    assert f"{example.NASTY}.csv, row 4" in words
    assert f"{example.NASTY}.txt: cannot be read." in words


def test_the_answer_comes_first_and_severity_is_in_words(reports: Reports) -> None:
    """Each part stands after the one before it (links to evidence name some of them earlier as well)."""
    _, words = read(page_of(example.two_setups, reports))
    place = 0
    for part in (
        "The answer",
        "Is it what the teeth predict?",
        "Is it quicker?",
        "Does the speedometer need correcting?",
        "What next?",
        "Change in each gear",
        "Key figures",
        "Question by question",
        "▲ Check this Second gear",
        "Road speed against engine speed",
        "Gears, before (14/43)",
        "Which sprockets are fitted, after",
        "Timed spans, after against before",
        "Samples left out, and why",
        "Also found",
        "What the words mean",
        "What these data cannot tell",
        "Before you ride",
    ):
        assert part in words[place:], f"{part!r} does not follow {words[max(place - 60, 0) : place]!r}"
        place = words.index(part, place) + len(part)


def test_every_picture_has_words_and_every_table_heads(reports: Reports) -> None:
    tags, _ = read(page_of(example.two_setups, reports))
    pictures = [attributes for tag, attributes in tags if tag == "svg"]
    assert len(pictures) == 5
    named = {attributes["id"] for _, attributes in tags if "id" in attributes}
    assert {picture["aria-labelledby"] for picture in pictures} <= named
    assert all(picture["role"] in {"img", "group"} for picture in pictures)
    heads = [attributes for tag, attributes in tags if tag == "th"]
    assert all(head.get("scope") in {"col", "row"} for head in heads)
    assert ("html", {"lang": "en-GB", "data-unit": "kmh"}) in tags


def test_numbers_of_the_tables(reports: Reports) -> None:
    text = page_of(example.two_setups, reports)
    assert re.search(r'<th scope="row">2nd</th><td>−5.24 <small>−5.56 to −4.93</small></td><td>−7.14</td>', text)
    assert re.search(r'<th scope="row">14/47</th><td>−8.50</td><td>0.6\xa0%</td>', text)
    assert re.search(r'<th scope="row">no engine speed</th><td>3</td><td>3</td>', text)
    assert "one run is no comparison" in text


def test_cautions_defer_to_manual_and_law(reports: Reports) -> None:
    _, words = read(page_of(example.without_gears, reports))
    for part in ("closed road", "legal speed", "eyes on the road", "manual", "Local law and licensed practice"):
        assert part in words


def test_runs_of_a_ride_without_any_engine_speed(tmp_path: Path) -> None:
    made = example.found_runs()
    setups = [
        replace(
            result,
            samples=result.samples.assign(
                engine_rpm=np.nan, ln_ratio=np.nan, gear=pd.array([None] * len(result.samples), dtype="Int64")
            ).assign(left_out="no engine speed"),
            left_out={"no engine speed": len(result.samples)},
            gears=(),
            ladder="none",
            circumference=None,
            lag_s=None,
            timed_spans=tuple(replace(run, gears=(), shifts=()) for run in result.timed_spans),
        )
        for result in made.setups
    ]
    before, after = (result.timed_spans for result in setups)
    compared = Comparison("before", "after", None, (), None, (), compare_spans(before, after))
    files = write_report(replace(made, setups=tuple(setups), comparisons=(compared,)), tmp_path)
    tags, words = read(files["report.html"].read_text("utf-8"))
    shown = {attributes["id"] for tag, attributes in tags if tag == "section" and "id" in attributes}
    assert {"key-figures", "timed-runs", "timed-spans", "could-show", "both-ways", "runs"} <= shown
    assert not {"change-per-gear", "speed-against-rpm", "ratio-histogram", "gears", "changes"} & shown
    assert "60 to 100 km/h, roll-on" in words
    assert "Gears found 0 0" in words


def test_a_machine_without_a_name_and_speeds_in_mph(reports: Reports) -> None:
    _, words = read(page_of(example.without_bike, reports))
    assert "Motorcycle without a name" in words
    assert "mph per 1000 rpm" in words
    assert ("html", {"lang": "en-GB", "data-unit": "mph"}) in read(page_of(example.without_bike, reports))[0]
    assert "tooth counts not stated" in words
    assert "Gear Change [%] With the others" not in words  # nobody judged the gears of this example


def test_what_a_circumference_rests_on(reports: Reports) -> None:
    _, words = read(page_of(example.one_setup, reports))
    assert "Circumference, before (14/43) Rests on: six gears, the tooth counts as stated and" in words
    assert "Speed comes from satellite receiver" in words


def test_any_number_of_setups_stand_in_one_table_and_one_picture(three: Path) -> None:
    text = three.read_text("utf-8")
    assert len(text) < 3e6
    tags, words = read(text)
    for kind in ("changes", "sprockets", "timed-spans"):
        assert [attributes["id"] for _, attributes in tags if attributes.get("class") == kind] == [kind]
    assert words.count("as predicted? yes, within the interval") == 2
    # road speed goes with 1/rear: 48/52 and 48/45
    for rear, percent in ((52, "−7.69"), (45, "+6.67")):
        assert f"sprocket-{rear} against sprocket-48: every gear moved by" in words
        assert f"in line with the {percent} % that 14/{rear} instead of 14/48 teeth predict" in words
    assert re.search(r"Gear sprocket-52 \(14/52\) \[%\] sprocket-45 \(14/45\) \[%\] 1st ", words)
    assert "Tooth counts say −7.69 +6.67" in words


def test_an_answer_that_differs_from_setup_to_setup_is_given_for_each() -> None:
    codes = (("change-agrees", "narrow"), ("change-undecided", "wide"))
    findings = tuple(Finding("note", code, f"About {about}.", about) for code, about in codes)
    analysis = replace(example.three_setups(), findings=findings)
    answer = story.answers((analysis, analysis), {})[0]
    assert answer.verdict == "narrow: yes, within the interval; wide: cannot tell yet"
    assert story.certainty(analysis, "wide") == "Cannot tell yet"
    assert story.certainty(analysis, "neither") == ""


def test_a_judged_speedometer_is_the_answer_of_its_own_setup() -> None:
    verdicts = (("within", "narrow"), ("outside", "wide"))
    findings = tuple(Finding("note", "speedometer-verdict", "Said.", about, said) for said, about in verdicts)
    for given, verdict in (
        (findings[:1], "No, within the rule"),
        (findings[1:], "Yes, outside the rule"),
        (findings, "narrow: no, within the rule; wide: yes, outside the rule"),
    ):
        analysis = replace(example.three_setups(), findings=given)
        assert story.answers((analysis, analysis), {})[2].verdict == verdict


def test_a_warning_that_no_question_asks_for_comes_first_under_what_next() -> None:
    analysis = replace(example.two_setups(), findings=(Finding("warning", "rows-not-read", "Row 4 is not read."),))
    answer = story.answers((analysis, analysis), {})[3]
    assert (answer.verdict, answer.sentences[0].text) == ("Check this first", "Row 4 is not read.")


def test_evidence_is_that_of_the_setup_which_a_finding_is_about() -> None:
    shown = {
        "speedometer": Evidence("Speedometer, before", "speedometer", "before"),
        "speedometer-2": Evidence("Speedometer, after", "speedometer", "after"),
    }
    for about, link in (
        ("before", '<a href="#speedometer">Speedometer, before</a>'),
        ("after", '<a href="#speedometer-2">Speedometer, after</a>'),
        ("third", ""),
    ):
        assert links(Finding("note", "speedometer-verdict", "Said.", about, "within"), shown) == link


def test_timed_spans_that_differ_and_others_that_do_not() -> None:
    codes = ("timed-within-scatter", "timed-differs", "timed-differs")
    findings = tuple(Finding("note", code, f"Span {i}.", "") for i, code in enumerate(codes))
    for given, verdict in (
        (findings, "Beyond the scatter in 2 of 3 timed spans"),
        (findings[:1], "Not shown by these runs"),
        (findings[1:], "A difference beyond the scatter"),
    ):
        analysis = replace(example.two_setups(), findings=given)
        assert story.answers((analysis, analysis), {})[1].verdict == verdict
