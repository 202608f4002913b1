"""Every key of results.json with its unit, from the schema."""

from __future__ import annotations

import json
from collections.abc import Iterator
from importlib import resources
from typing import Any, Final

SCHEMA: Final[dict[str, Any]] = json.loads(
    resources.files("gearfit.report.files").joinpath("results.schema.json").read_text("utf-8")
)
HEAD: Final = """# Every key of results.json

Made from `results.schema.json` by `python -m tests.glossary`. `NAME` stands for the name of a setup, `[]` for each
entry of a list. An estimate is an object of the four keys below, in the unit that stands beside it. `null` stands where
the data cannot say.
"""
KINDS: Final = {
    "string": "text",
    "boolean": "true or false",
    "number": "number",
    "integer": "whole number",
    "array": "list",
    "object": "object",
}
ESTIMATE: Final = "#/$defs/estimate"


def resolved(node: dict[str, Any]) -> dict[str, Any]:
    """Follow a reference, through "or null" as well."""
    for part in (node, *node.get("anyOf", [])):
        if "$ref" in part:
            found: dict[str, Any] = SCHEMA["$defs"][part["$ref"].rpartition("/")[2]]
            return found
    return node


def is_estimate(node: dict[str, Any]) -> bool:
    return any(part.get("$ref") == ESTIMATE for part in (node, *node.get("anyOf", [])))


def objects(node: dict[str, Any], path: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield each object with keys of its own, with the path that leads to it; estimates apart."""
    found = resolved(node)
    if is_estimate(node):
        return
    if "properties" in found:
        yield path, found
    for key, part in found.get("properties", {}).items():
        if key != "comparisons":  # as comparison
            yield from objects(part, f"{path}.{key}".strip("."))
    if isinstance(found.get("additionalProperties"), dict):
        yield from objects(found["additionalProperties"], f"{path}.NAME")
    if "items" in found:
        yield from objects(found["items"], f"{path}[]")


def kind(node: dict[str, Any]) -> str:
    """Return "number", "list" and so on in words."""
    if is_estimate(node):
        return "estimate"
    if "enum" in node or "const" in node:
        return "text"
    stated = resolved(node)["type"]
    return KINDS[stated if isinstance(stated, str) else stated[0]]


def table(found: dict[str, Any]) -> str:
    rows = [
        f"| `{key}` | {kind(node)} | {node.get('x-unit', '–')} | {node['description']} |"
        for key, node in found["properties"].items()
    ]
    return "\n".join(["| key | kind | unit | meaning |", "|---|---|---|---|", *rows, ""])


def page() -> str:
    """Return the text of docs/keys.md."""
    sections = [HEAD, "## An estimate\n", table(SCHEMA["$defs"]["estimate"])]
    for path, found in objects(SCHEMA):
        sections += [f"## {path or 'results.json'}\n", table(found)]
    return "\n".join(sections)
