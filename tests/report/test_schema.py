"""results.json against its published schema, by a general-purpose validator (JSON Schema, draft 2020-12)."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from importlib import resources
from pathlib import Path
from typing import Any

import jsonschema
import pytest

import gearfit
from gearfit.records.results import Analysis
from gearfit.report.files.results_json import results_text
from tests.report import example

SAMPLES = Path(__file__).parents[2] / "sample_logs"
#: Beside the trail bike, which a fixture of all reports' tests reads.
OTHER_SAMPLES = ("motorway-commuter", "no-papers")
SCHEMA = json.loads(resources.files("gearfit.report.files").joinpath("results.schema.json").read_text("utf-8"))


def closed(node: Any) -> Any:
    """The schema with every object that names its keys closed to all others."""
    if isinstance(node, list):
        return [closed(part) for part in node]
    if not isinstance(node, dict):
        return node
    inner = {key: closed(part) for key, part in node.items()}
    return {**inner, "additionalProperties": False} if isinstance(node.get("required"), list) else inner


CLOSED = closed(SCHEMA)


def faults(data: Any, schema: Any = CLOSED) -> list[str]:
    validator = jsonschema.Draft202012Validator(schema)
    return [f"{error.json_path}: {error.message}" for error in validator.iter_errors(data)]


def test_the_schema_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize("make", example.ALL)
def test_every_example_keeps_to_it(make: Callable[[], Analysis]) -> None:
    assert faults(json.loads(results_text(make()))) == []


@pytest.fixture(scope="module")
def written(ridden: Path, three: Path) -> list[Any]:
    """Results of every sample folder, of three setups, and of the analyses made by hand (sheets, a speedometer)."""
    found = [json.loads((page.parent / "results.json").read_text("utf-8")) for page in (ridden, three)]
    texts = [results_text(gearfit.analyse(gearfit.read_folder(SAMPLES / name))) for name in OTHER_SAMPLES]
    return [*found, *(json.loads(text) for text in (*texts, *(results_text(make()) for make in example.ALL)))]


def test_no_results_hold_a_key_that_is_not_described(written: list[Any]) -> None:
    assert [faults(data) for data in written] == [[]] * len(written)


def test_every_key_described_is_written_somewhere(written: list[Any]) -> None:
    """So that the schema, and docs/keys.md made from it, describe nothing that is gone."""
    seen = {(frozenset(node), key) for data in written for node, key in places(data)}
    kinds = [set(node["properties"]) for node in nodes(SCHEMA) if "properties" in node]
    assert [kind - {key for keys, key in seen if keys <= kind} for kind in kinds] == [set()] * len(kinds)
    assert len(kinds) > 20


def test_every_sample_folder_is_among_them() -> None:
    assert {folder.parent.name for folder in SAMPLES.glob("*/before")} == {"trail-bike", *OTHER_SAMPLES}


def nodes(node: Any) -> Iterator[dict[str, Any]]:
    """Every object of a schema."""
    if isinstance(node, dict):
        yield node
    for part in node.values() if isinstance(node, dict) else node if isinstance(node, list) else ():
        yield from nodes(part)


def places(node: Any) -> list[tuple[Any, str]]:
    """Every key of a results file, with the object that holds it."""
    if isinstance(node, dict):
        return [*((node, key) for key in node), *(place for part in node.values() for place in places(part))]
    return [place for part in node for place in places(part)] if isinstance(node, list) else []


def test_a_missing_key_and_a_wrong_value_are_found() -> None:
    text = results_text(example.sheet_only())
    kinds = [(frozenset(node), key) for node, key in places(json.loads(text))]
    missed = set()
    for number, kind in enumerate(kinds):
        if kind in kinds[:number]:
            continue  # of keys of objects alike the first is enough
        data = json.loads(text)
        del places(data)[number][0][kind[1]]
        if faults(data):
            missed.add(kind)
    required = [(set(node["properties"]), key) for node in nodes(SCHEMA) for key in node.get("required", [])]
    assert [kind for kind in set(kinds) - missed for keys, key in required if kind[1] == key and kind[0] <= keys] == []
    assert len(missed) > 80
    for key, value in (("schema", "gearfit-results-2"), ("findings", None), ("setups", {}), ("comparison", 3)):
        assert faults({**json.loads(text), key: value}), key


def test_new_keys_are_allowed_to_readers_and_an_undescribed_one_fails_here() -> None:
    data = json.loads(results_text(example.two_setups()))
    data["setups"]["before"]["gears"][0]["colour"] = "red"
    data["further"] = 1
    assert faults(data, SCHEMA) == []
    assert sorted(faults(data), key=len) == [
        "$: Additional properties are not allowed ('further' was unexpected)",
        "$.setups.before.gears[0]: Additional properties are not allowed ('colour' was unexpected)",
    ]
