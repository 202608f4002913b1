"""Writes small GPX files."""

from __future__ import annotations

GPX_11 = '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1" xmlns:a="urn:a" xmlns:b="urn:b">'
GPX_10 = '<gpx version="1.0" xmlns="http://www.topografix.com/GPX/1/0">'


def second(count: int) -> str:
    return f"2024-05-01T12:{count // 60:02d}:{count % 60:02d}Z"


def point(lat: float, lon: float, time: str | None, inside: str = "") -> str:
    stamp = "" if time is None else f"<time>{time}</time>"
    return f'<trkpt lat="{lat:.9f}" lon="{lon:.9f}"><ele>100.5</ele>{stamp}{inside}</trkpt>'


def gpx(*segments: list[str], root: str = GPX_11, before: str = "") -> str:
    tracks = "".join(f"<trkseg>{''.join(points)}</trkseg>" for points in segments)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{before}{root}\n<trk>{tracks}</trk>\n</gpx>\n'


def northward(count: int, step_deg: float = 1e-4) -> list[str]:
    return [point(50 + k * step_deg, 10.0, second(k)) for k in range(count)]
