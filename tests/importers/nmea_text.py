"""Writes NMEA sentences."""

from __future__ import annotations


def checksum(body: str) -> int:
    """Exclusive or of all characters between $ and * (K. Betke, The NMEA 0183 Protocol, 2001)."""
    value = 0
    for letter in body:
        value ^= ord(letter)
    return value


def sentence(body: str) -> str:
    return f"${body}*{checksum(body):02X}\r\n"


def rmc(
    second: float,
    knots: float | str,
    *,
    talker: str = "GP",
    status: str = "A",
    date: str = "230394",
    lat: str = "4807.038,N",
    lon: str = "01131.000,E",
) -> str:
    speed = knots if isinstance(knots, str) else f"{knots:.3f}"
    return sentence(f"{talker}RMC,{clock(second)},{status},{lat},{lon},{speed},084.4,{date},,,A")


def gga(second: float, *, quality: int = 1, height: float = 545.4, lat: str = "4807.038,N") -> str:
    return sentence(f"GPGGA,{clock(second)},{lat},01131.000,E,{quality},08,0.9,{height},M,46.9,M,,")


def clock(second: float) -> str:
    minutes, rest = divmod(second, 60)
    return f"{int(minutes) // 60 % 24:02d}{int(minutes) % 60:02d}{rest:05.2f}"
