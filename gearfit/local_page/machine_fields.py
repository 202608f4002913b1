"""The fields of the machine's form: where each stands in bike.toml, how it is written, and what it buys."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final, Literal

How = Literal["number", "text", "ratio", "ratios", "range"]


@dataclass(frozen=True)
class Field:
    """One field.

    Attributes
    ----------
    table, key : str
        Place in bike.toml.
    label, hint : str
        In words, and what may be written.
    how : str
        How the text of the field becomes a value.
    choices : tuple of str
        Where only these are allowed.
    per_setup : bool
        Whether the two setups have it each.
    """

    table: str
    key: str
    label: str
    hint: str = ""
    how: How = "number"
    choices: tuple[str, ...] = ()
    per_setup: bool = False

    @property
    def name(self) -> str:
        """Name in the form, without the setup."""
        return f"{self.table}.{self.key}"


@dataclass(frozen=True)
class Group:
    """Fields that belong together, and what they buy."""

    title: str
    buys: str
    fields: tuple[Field, ...]


TEETH: Final = Group(
    "Teeth",
    "Count them on the sprockets. Teeth before and after are enough for a prediction.",
    (
        Field("final_drive", "front", "Gearbox sprocket (front)", "such as 14", per_setup=True),
        Field("final_drive", "rear", "Wheel sprocket (rear)", "such as 43", per_setup=True),
    ),
)
GROUPS: Final = (
    TEETH,
    Group(
        "Tyre of the driven wheel",
        "With gearbox and tyre: speeds in every gear, and the real rolling circumference.",
        (
            Field("tyre", "size", "Size on the sidewall", "such as 140/70-17", "text", per_setup=True),
            Field(
                "tyre",
                "rolling_circumference_mm",
                "Rolling circumference, mm",
                "one turn of the wheel, rider seated; better than the size",
                per_setup=True,
            ),
        ),
    ),
    Group(
        "Gearbox",
        "With the gearbox: overall ratios, and gears that need not be noted.",
        (
            Field("gearbox", "primary", "Primary drive", "driven/driving teeth such as 74/25, or a ratio", "ratio"),
            Field("gearbox", "gears", "Gears, first gear first", "such as 35/13, 31/17, 28/20", "ratios"),
        ),
    ),
    Group(
        "Final drive",
        "With the chain: whether it still fits, and where the axle goes.",
        (
            Field("final_drive", "kind", "Kind", "", "text", ("chain", "belt", "shaft")),
            Field("final_drive", "chain", "Chain code", "such as 520", "text"),
            Field("final_drive", "links", "Links", "the joining link counted"),
            Field("final_drive", "slack_mm", "Slack, mm", "least and most, such as 35, 45", "range"),
            Field("final_drive", "adjuster_mm", "Adjuster, mm", "both ends of its scale, such as 0, 25", "range"),
            Field("final_drive", "axle_at_mm", "Axle stands at, mm", "on that scale"),
        ),
    ),
    Group(
        "Engine, mass and dash",
        "With limit and mass: top speeds, and times with other sprockets. With the dash: whether it needs correcting.",
        (
            Field("engine", "limit_rpm", "Limit, rpm", "such as 10500"),
            Field("engine", "cylinders", "Cylinders", "for sound recordings"),
            Field("engine", "strokes", "Strokes", "", "number", ("2", "4")),
            Field("engine", "torque_nm", "Highest torque, N m", "as the papers state it"),
            Field("mass", "total_kg", "Machine, rider and load, kg"),
            Field(
                "speedometer",
                "driven_from",
                "Dash is driven from",
                "",
                "text",
                ("front wheel", "rear wheel", "gearbox output", "unknown"),
            ),
            Field("speedometer", "regulation", "Rule", "", "text", ("UNECE R39", "49 CFR 393.82", "none")),
        ),
    ),
)
FIELDS: Final = tuple(field for group in GROUPS for field in group.fields)

_NUMBER: Final = re.compile(r"[+-]?\d+(?:[.,]\d+)?")


def value_of(field: Field, text: str) -> object:
    """Return the value that a text of the form stands for; what it cannot read it leaves to the rule of the key."""
    text = text.strip()
    if field.how == "text":
        return text
    if field.how == "ratios":
        return [_ratio(part) for part in re.split(r"[;\s]+|,\s+|,(?=\d+\s*/)", text) if part.strip(" ,")]
    if field.how == "range":
        return [_number(part) for part in re.split(r"\s*(?:[;,]\s|\s|;|,|–|-|\bto\b)\s*", text) if part]
    return _ratio(text) if field.how == "ratio" else _number(text)


def text_of(value: object) -> str:
    """Return how a value stands in its field."""
    if isinstance(value, list | tuple):
        return ", ".join(map(text_of, value))
    return f"{value:g}" if isinstance(value, float) else str(value)


def _ratio(text: str) -> object:
    text = text.strip(" ,")
    return text.replace(" ", "") if "/" in text else _number(text)


def _number(text: str) -> object:
    if not _NUMBER.fullmatch(text):
        return text
    number = float(text.replace(",", "."))
    return int(number) if number.is_integer() and "." not in text and "," not in text else number
