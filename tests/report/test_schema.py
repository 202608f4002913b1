"""results.json against its published schema, by a general-purpose validator (JSON Schema, draft 2020-12)."""

from __future__ import annotations

import json
from collections.abc import Callable
from importlib import resources
from pathlib import Path
from typing import Any

import jsonschema
import pytest

import gearfit
from gearfit.report.results_json import results_text
from gearfit.results import Analysis
from tests.report import example

SAMPLES = Path(__file__).parents[2] / "sample_logs"
SCHEMA = json.loads(resources.files("gearfit.report").joinpath("results.schema.json").read_text("utf-8"))


def faults(data: Any) -> list[str]:
    validator = jsonschema.Draft202012Validator(SCHEMA)
    return [f"{error.json_path}: {error.message}" for error in validator.iter_errors(data)]


def test_the_schema_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize("make", example.ALL)
def test_every_example_keeps_to_it(make: Callable[[], Analysis]) -> None:
    assert faults(json.loads(results_text(make()))) == []


@pytest.mark.parametrize("name", ["motorway-commuter", "trail-bike"])
def test_real_results_keep_to_it(name: str) -> None:
    analysis = gearfit.analyse(gearfit.read_folder(SAMPLES / name))
    assert faults(json.loads(results_text(analysis))) == []


def required(node: Any) -> list[tuple[str, str]]:
    """Every required key of the schema with where it is required."""
    found = []
    if isinstance(node, dict):
        found = [(json.dumps(node.get("properties", {}))[:40], key) for key in node.get("required", [])]
        for part in node.values():
            found += required(part)
    elif isinstance(node, list):
        for part in node:
            found += required(part)
    return found


def places(node: Any) -> list[tuple[Any, str]]:
    """Every key of a results file, with the object that holds it."""
    if isinstance(node, dict):
        return [*((node, key) for key in node), *(place for part in node.values() for place in places(part))]
    return [place for part in node for place in places(part)] if isinstance(node, list) else []


def test_a_missing_key_and_a_wrong_value_are_found() -> None:
    text = results_text(example.sheet_only())
    keys = [key for _, key in places(json.loads(text))]
    missed = set()
    for number, key in enumerate(keys):
        if key in keys[:number] and key in keys[number + 1 :]:
            continue  # of keys that stand in several places, the first and the last are enough
        data = json.loads(text)
        del places(data)[number][0][key]
        if faults(data):
            missed.add(key)
    assert {key for _, key in required(SCHEMA)} <= missed
    for key, value in (("schema", "gearfit-results-2"), ("findings", None), ("setups", {}), ("comparison", 3)):
        assert faults({**json.loads(text), key: value}), key


def test_new_keys_are_allowed() -> None:
    data = json.loads(results_text(example.two_setups()))
    data["setups"]["before"]["gears"][0]["colour"] = "red"
    assert faults({**data, "further": 1}) == []
