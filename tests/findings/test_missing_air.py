"""A correction to a reference state of the air that cannot be made, or does not hold."""

from __future__ import annotations

import pytest

from tests.findings.conftest import BIKE, SETUPS, Analyse, codes, only, sheet, speeds_kmh

MISSING = "correction-without-air"
FAR = "correction-out-of-range"
LACKING = "as well: without, no time is corrected. State what is missing in bike.toml."


def conditions(text: str) -> dict[str, str]:
    return {"bike.toml": f"{BIKE}[conditions]\n{text}\n{SETUPS}", "before/a.csv": sheet(speeds_kmh(16))}


@pytest.mark.parametrize(
    ("stated", "code", "text"),
    [
        ("", MISSING, f'correction = "ISO 1585" needs temperature_c and pressure_hpa (or altitude_m) {LACKING}'),
        ("altitude_m = 240", MISSING, f'correction = "ISO 1585" needs temperature_c {LACKING}'),
        ("temperature_c = 20", MISSING, f'correction = "ISO 1585" needs pressure_hpa (or altitude_m) {LACKING}'),
        # (99 / 90)^1.2 (283 / 298)^0.6 = 1.0870
        (
            "temperature_c = 10\npressure_hpa = 900",
            FAR,
            "the correction ISO 1585 is 1.09 at 900 hPa and 10 °C; it holds from 0.93 to 1.07. Compare the times as "
            "ridden, in like air, and check the figures in [conditions].",
        ),
    ],
)
def test_a_correction_that_is_not_to_be_had(analyse: Analyse, stated: str, code: str, text: str) -> None:
    found = only(analyse(conditions(f'correction = "ISO 1585"\n{stated}')), code)
    assert found.severity == "warning"
    said = found.text.replace("\N{NO-BREAK SPACE}", " ")
    assert said == f"before: {'[conditions] ' if code == MISSING else ''}{text}"


def test_setups_in_the_same_air_are_named_at_once(analyse: Analyse) -> None:
    files = conditions('correction = "SAE J1349"') | {"after/a.csv": sheet(speeds_kmh(15))}
    assert only(analyse(files), MISSING).text.startswith("before and after: [conditions] ")


@pytest.mark.parametrize(
    "stated",
    [
        # (99 / 101.3)^1.2 (293 / 298)^0.6 = 0.9630
        'correction = "ISO 1585"\ntemperature_c = 20\npressure_hpa = 1013',
        "temperature_c = 10\npressure_hpa = 900",
    ],
)
def test_a_correction_that_holds_or_is_not_asked_for(analyse: Analyse, stated: str) -> None:
    assert not {MISSING, FAR} & set(codes(analyse(conditions(stated))))
