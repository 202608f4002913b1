"""What next: the pair that leads from measured to wanted, and what one more ride would settle."""

from __future__ import annotations

import re

from gearfit.findings.verdict import verdict
from tests.findings.conftest import BIKE, SETUPS, Analyse, codes, only, sheet, speeds_kmh

#: What few runs say of how many it takes.
UNSURE = "4 to over 30"
#: Of three hand-timed spans.
ENDS = ("0 to 60", "0 to 80", "40 to 80")

BEFORE, AFTER = sheet(speeds_kmh(16)), sheet(speeds_kmh(15))


def folder(wish: str, after: str = AFTER, bike: str = BIKE + SETUPS) -> dict[str, str]:
    return {"bike.toml": f"[wish]\n{wish}\n{bike}", "before/a.csv": BEFORE, "after/a.csv": after}


# Wanted -10 %, fitted 15/43 gives 15/16 = -6.25 %: another 0.9/0.9375 = -4.00 % is needed. Of one sprocket 15/45 gives
# 43/45 = -4.44 %, in all 15 x 43/(16 x 45) = -10.42 %.
def test_a_wish_not_yet_met_names_pairs_by_what_they_reach_in_all(analyse: Analyse) -> None:
    text = only(analyse(folder("change_percent = -10")), "wish-pairs").text
    assert text.startswith("You want −10.00 % against before; after gives −6.")
    assert "From after (15/43) a change of −4.0" in text
    assert re.search(r"15/45 \(−10\.[34]\d % in all\)", text)
    assert "the machine's manual decides" in text


def test_a_wish_that_is_met_needs_nothing(analyse: Analyse) -> None:
    found = only(analyse(folder("change_percent = -6")), "wish-met")
    assert found.severity == "note"
    assert found.text.endswith("That is within 1 percentage point of the wish.")


# After: i_6 = 2.5 x 0.98 x 43/15 = 7.0233; 90 km/h is 25 m/s, and 60 x 7.0233 x 25 / 2 = 5267 rev/min.
def test_a_cruise_is_answered_from_the_last_ride(analyse: Analyse) -> None:
    text = only(analyse(folder("cruise_kmh = 90\nat_rpm = 4900"), "mph"), "wish-pairs").text
    assert text.startswith("You want 56 mph at 4900 rpm in sixth gear; after (15/43) turns 526")
    assert "a change of +7." in text


def test_a_wish_beyond_reach_says_so(analyse: Analyse) -> None:
    found = only(analyse(folder("cruise_kmh = 90\nat_rpm = 3000")), "wish-pairs")
    assert found.severity == "warning"
    assert "no pair within reach comes within 1 percentage point of it; the nearest are 18/37" in found.text


def test_a_wish_needs_the_teeth(analyse: Analyse) -> None:
    bike = BIKE.replace("rear = 43", "kind = 'chain'") + SETUPS
    found = only(analyse(folder("change_percent = -10", bike=bike)), "wish-needs-teeth")
    assert found.text == (
        "A wish is stated, but not the sprockets fitted: count the teeth on both and put them into bike.toml."
    )


def test_no_wish_is_answered_by_nothing(analyse: Analyse) -> None:
    files = {"bike.toml": BIKE + SETUPS, "before/a.csv": BEFORE, "after/a.csv": AFTER}
    assert not {code for code in codes(analyse(files)) if code.startswith("wish")}


def test_speedometer_readings_do_not_answer_a_wish(analyse: Analyse) -> None:
    shown = {
        "bike.toml": f"[wish]\nchange_percent = -10\n{BIKE}{SETUPS}",
        "before/a.csv": sheet(speeds_kmh(16), speed="indicated_kmh"),
        "after/a.csv": sheet(speeds_kmh(15), speed="indicated_kmh"),
    }
    assert only(analyse(shown), "wish-not-judged").text.endswith("Ride with a satellite receiver.")


def test_one_setup_is_answered_from_what_it_is(analyse: Analyse) -> None:
    files = {"bike.toml": f"[wish]\nchange_percent = -6\n{BIKE}{SETUPS}", "before/a.csv": BEFORE}
    text = only(analyse(files), "wish-pairs").text
    assert text.startswith("You want −6.00 % against before. From before (16/43) a change of −6.00 % is needed")
    # 15/43 is -6.25 %
    assert "15/43 (−6.25 % in all)" in text


def test_a_gear_ridden_once_only_is_a_doubt(analyse: Analyse) -> None:
    files = folder("change_percent = -6.25", after=AFTER.rsplit("6,", 1)[0])
    assert "how sixth gear moved (not ridden in after)" in only(analyse(files), "one-more-ride").text


def test_timed_runs_within_scatter_are_a_doubt_where_a_rider_can_make_so_many(analyse: Analyse) -> None:
    header = "from_kmh,to_kmh,time_s\n"
    runs = f"{header}0,80,6.0\n0,80,6.4\n0,80,6.2\n"
    files = folder("change_percent = -6.25") | {
        "before/t.csv": runs,
        "after/t.csv": f"{header}0,80,6.0\n0,80,5.9\n0,80,6.1\n",
    }
    analysis = analyse(files)
    needed = analysis.comparisons[0].timed_spans[0].runs_needed_per_setup
    assert needed is not None
    text = only(analysis, "one-more-ride").text.replace("\N{NO-BREAK SPACE}", " ")
    assert f"whether 0 to 80 km/h, by stopwatch, is quicker: about {needed} runs ({UNSURE}) in each setup" in text


def test_a_span_that_more_runs_than_a_rider_can_make_would_settle_is_open_all_the_same(analyse: Analyse) -> None:
    header = "from_kmh,to_kmh,time_s\n"
    before = "".join(f"0,80,{time}\n0,60,{time - 2}\n40,80,{time - 3}\n" for time in (6.0, 6.4, 6.2))
    after = "".join(f"0,80,{time - 0.05}\n0,60,{time - 2}\n40,80,{time - 3.1}\n" for time in (6.0, 6.4, 6.2))
    files = {"before/t.csv": header + before, "after/t.csv": header + after}
    spans = {round(3.6 * span.from_mps): span for span in analyse(files).comparisons[0].timed_spans[1:]}
    (slow, quick) = spans[0].runs_needed_per_setup, spans[40].runs_needed_per_setup
    assert slow is not None
    assert quick is not None
    assert slow > quick > 30
    text = only(analyse(files), "one-more-ride").text.replace("\N{NO-BREAK SPACE}", " ")
    beyond = "more runs than anyone would ride \\(over 30; at best \\d\\) in each setup"
    spans_named = "; ".join(f"whether {ends} km/h, by stopwatch, is quicker: {beyond}" for ends in ENDS)
    assert re.fullmatch(f"Open, but not for one more ride: {spans_named}\\.", text)
    files["after/t.csv"] += "0,100,8.1\n"
    files["before/t.csv"] += "0,100,9.3\n"
    text = only(analyse(files), "one-more-ride").text.replace("\N{NO-BREAK SPACE}", " ")
    assert text.startswith("One more ride would settle: whether 0 to 100 km/h, by stopwatch, is quicker: about ")
    assert " in each setup. Open beyond that: whether 0 to 60 km/h, by stopwatch, is quicker: more runs " in text


def test_doubts_about_several_setups_name_them_and_the_terminal_names_all(analyse: Analyse) -> None:
    bike = BIKE + "[setups.a]\nfront = 16\n[setups.b]\nfront = 15\n[setups.c]\nfront = 17\n"
    times = {"a": (6.0, 6.4, 6.2), "b": (6.0, 5.9, 6.1), "c": (6.2, 6.0, 5.8)}
    files = {"bike.toml": bike}
    for (name, runs), front in zip(times.items(), (16, 15, 17), strict=True):
        files[f"{name}/hold.csv"] = sheet(speeds_kmh(front))
        files[f"{name}/t.csv"] = "from_kmh,to_kmh,time_s\n" + "".join(f"0,80,{run}\n" for run in runs)
    analysis = analyse(files)
    text = only(analysis, "one-more-ride").text.replace("\N{NO-BREAK SPACE}", " ")
    runs_needed = rf"whether 0 to 80 km/h, by stopwatch, is quicker: about \d+ runs \({UNSURE}\) in each setup"
    assert re.fullmatch(f"One more ride would settle: for b, {runs_needed}; for c, {runs_needed}.", text)
    printed = verdict(analysis)
    assert printed[0] == "This machine: from a (16/43) to b (15/43) and c (17/43)"
    # front 15 and 17 instead of 16: -6.25 and +6.25 %, told to as many figures as the readings bear
    for line, name, sign in ((printed[1], "b", "−"), (printed[4], "c", r"\+")):
        said = rf"{name}: road speed at the same engine speed: {sign}6.\d+ % \(.*\); the teeth predict {sign}6.2 %"
        assert re.fullmatch(said, line)


def test_a_change_too_small_for_coarse_readings_asks_for_more_passes(analyse: Analyse) -> None:
    bike = BIKE.replace("rear = 43", "front = 16\nrear = 43") + "[setups.before]\n[setups.after]\nrear = 44\n"
    # truth 34.3 and 46.7 km/h, after 33.5 and 45.6: read to the whole km/h, with a slip of one
    before, after = sheet([34.0, 46.0]), sheet([34.0, 45.0])
    found = analyse({"bike.toml": bike, "before/a.csv": before, "after/a.csv": after})
    change = found.comparisons[0].all_gears_change_percent
    assert change is not None
    assert change.contains(0.0)
    assert change.contains(100 * (43 / 44 - 1))
    assert re.search(
        r"whether the gearing changed at all \(\d+ times as many passes", only(found, "one-more-ride").text
    )
