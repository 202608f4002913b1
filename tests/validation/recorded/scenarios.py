"""The rows of the study: which machine, which ride, which instruments."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from tests.validation.recorded.receivers import PickUp, Smoothing

RATES: Final = (5.0, 10.0, 10.0, 20.0)


@dataclass(frozen=True)
class Row:
    """One row: everything not named here is drawn at random."""

    name: str
    rates_hz: tuple[float, ...] = RATES
    smoothing: Smoothing = "none"
    pick_up: PickUp | None = None
    whole_kmh: bool = False
    rides: Literal["plain", "hard", "short", "variator"] = "plain"
    #: The throttle is never opened further, and the engine never turned faster than this share of its limit.
    throttle: float = 1.0
    highest: float | None = None
    peaky: bool = False
    soft: bool = False
    light: bool = False
    step_rpm: float | None = None
    cut: bool = False
    filter_s: float = 0.02
    offset_rpm: float = 0.0
    #: The log begins and ends anywhere, pauses, and repeats stamps.
    ragged: bool = False


ROWS: Final = (
    Row("plain, 1 Hz", (1.0,)),
    Row("plain, 5 Hz", (5.0,)),
    Row("plain, 10 Hz", (10.0,)),
    Row("plain, 25 Hz", (25.0,)),
    Row("receiver filters, first order", smoothing="first order"),
    Row("receiver filters, adaptive", smoothing="adaptive"),
    Row("receiver filters, constant velocity", smoothing="constant velocity"),
    Row("receiver's delay drifts", smoothing="drifting delay"),
    Row("own speed, gearbox", pick_up="gearbox"),
    Row("own speed, rear wheel", pick_up="rear wheel"),
    Row("own speed, front wheel", pick_up="front wheel"),
    Row("own speed, gearbox, whole km/h", pick_up="gearbox", whole_kmh=True),
    Row("own speed, front wheel, whole km/h", pick_up="front wheel", whole_kmh=True),
    Row("starts, throttle to 60 %", rides="hard", throttle=0.6),
    Row("starts, throttle to 70 %", rides="hard", throttle=0.7),
    Row("starts, throttle to 80 %", rides="hard", throttle=0.8),
    Row("starts, engine to 75 % of its limit", rides="hard", highest=0.75),
    Row("starts, throttle to 75 %, engine to 75 %", rides="hard", throttle=0.75, highest=0.75),
    Row("starts, full throttle", rides="hard"),
    Row("engine speed to 50 rpm", step_rpm=50),
    Row("engine speed to 100 rpm", step_rpm=100),
    Row("engine speed to 250 rpm", step_rpm=250),
    Row("engine speed cut to 50 rpm", step_rpm=50, cut=True),
    Row("engine speed cut to 100 rpm", step_rpm=100, cut=True),
    Row("tachometer filters, 0.2 s", filter_s=0.2),
    Row("tachometer 60 rpm high", offset_rpm=60),
    Row("starts, first gear held back, peaky", rides="hard", peaky=True, light=True),
    Row("starts, first gear soft, peaky", rides="hard", peaky=True, soft=True),
    Row("short, 5 Hz", (5.0,), rides="short"),
    Row("short, 10 Hz", (10.0,), rides="short"),
    Row("short, 50 Hz", (50.0,), rides="short"),
    Row("short, 100 Hz", (100.0,), rides="short"),
    Row("variator", rides="variator"),
    Row("ragged log", ragged=True),
)
