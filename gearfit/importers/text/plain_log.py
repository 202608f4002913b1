"""Logs of plain numbers, the fast way: straight into columns, without a column of text.

Whatever is not as plain as it can be is handed back, so that all that is left out, repaired or refused is so by one
reader and told in one place.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from gearfit.errors import LogError
from gearfit.importers.common.cells import Numbers, may_be_parted, refuse_thousands
from gearfit.importers.common.content import Content
from gearfit.importers.common.header_line import READINGS, Top, read_top
from gearfit.importers.common.headers import Meaning
from gearfit.importers.common.options import ReadOptions
from gearfit.importers.common.plain_bytes import count_delimiters
from gearfit.importers.common.written_step import written_step
from gearfit.importers.text.channels import LIMITS, gathered
from gearfit.importers.text.columns import SPEED_CHANNELS
from gearfit.importers.text.log import Log, recording_of, speed_source_of
from gearfit.importers.text.sheet_times import far_apart
from gearfit.importers.text.times import times_of_numbers
from gearfit.records.recording import Column, Recording

Floats = NDArray[np.float64]


def read_plain_log(content: Content, options: ReadOptions) -> Recording | None:
    """Read a log of which every cell is a number.

    Returns
    -------
    Recording or None
        What the ordinary reader gives; None where the file is not a log with one column of ascending times and one
        for each channel, its rows all of one length, its cells all numbers within their limits with a decimal point,
        no exponent and no more than 15 letters.
    """
    try:
        top = read_top(content.name, content.first_lines, options.columns)
        places = _places(top)
        columns = None if places is None else _read_columns(content, top, places)
        return None if columns is None or places is None else _recording(content.name, top, places, columns)
    except LogError:
        return None


def _places(top: Top) -> dict[str, tuple[int, Meaning]] | None:
    """Return number and meaning of the column of each channel, or None where they are no plain log."""
    found = [(number, meaning) for number, meaning in enumerate(top.meanings) if meaning is not None]
    places = {meaning.channel: (number, meaning) for number, meaning in found}
    plain = len(places) == len(found) and places.keys() <= {"time_s", *LIMITS}
    plain = plain and not any(meaning.fault for _, meaning in found)
    stated = all(meaning.unit is not None for _, meaning in found if meaning.channel in SPEED_CHANNELS)
    return places if plain and stated and "time_s" in places and not READINGS.isdisjoint(places) else None


def _read_columns(content: Content, top: Top, places: dict[str, tuple[int, Meaning]]) -> dict[str, Floats] | None:
    """Read the columns of all channels as numbers; None where anything in the rows is not plain."""
    start, width = _start_of_rows(content, top.lines), len(top.header.cells)
    wanted = sorted({*(number for number, _ in places.values()), width - 1})
    delimiters = None if start is None else count_delimiters(_from(content, start), top.header.delimiter)
    if start is None or delimiters is None:
        return None
    try:
        with content.path.open("rb") as file:
            file.seek(start)
            table = pd.read_csv(
                file,
                sep=top.header.delimiter,
                header=None,
                names=list(range(width)),
                usecols=wanted,
                index_col=False,
                dtype="float64",
                na_filter=False,
                quoting=csv.QUOTE_NONE,
                skip_blank_lines=False,
            )
    except (OSError, ValueError):
        return None
    # The last column is filled in each row, so that none is short; then none is long either if the sum is right.
    if not len(table) or delimiters != len(table) * (width - 1):
        return None
    values = table.to_numpy()
    return {channel: values[:, wanted.index(number)] for channel, (number, _) in places.items()}


def _start_of_rows(content: Content, lines: int) -> int | None:
    """Return the place of the first byte after so many lines, where these end as usual and lie in the head."""
    if content.encoding is None or content.encoding.startswith("utf-16"):
        return None
    start = 0
    for _ in range(lines):
        start = content.head.find(b"\n", start) + 1
        if not start:
            return None
    return None if b"\r" in content.head[:start].replace(b"\r\n", b"") else start


def _from(content: Content, start: int) -> Iterator[bytes]:
    blocks = content.blocks()
    yield next(blocks, b"")[start:]
    yield from blocks


def _recording(
    name: str, top: Top, places: dict[str, tuple[int, Meaning]], written: dict[str, Floats]
) -> Recording | None:
    times = times_of_numbers(written["time_s"], name, places["time_s"][1])
    if not (times.seconds[1:] > times.seconds[:-1]).all():
        return None
    if (
        "stated_gear" in places
        and "speed_mps" not in places
        and "indicated_mps" not in places
        and far_apart(times.seconds)
    ):
        return None
    numbers = {}
    for channel, (lowest, highest) in LIMITS.items():
        if channel in places:
            meaning = places[channel][1]
            values = written[channel] * meaning.factor
            if values.min() < lowest or values.max() > highest:
                return None
            if channel == "engine_rpm" and meaning.factor == 1.0 and may_be_parted(values):
                return None
            refuse_thousands(values, name, meaning)
            step = written_step(written[channel])
            numbers[channel] = Numbers(values, None if step is None else step * meaning.factor, ())
    channels = gathered(numbers, list(top.notes))
    forms = {"time_s": times.form}
    return recording_of(
        Log(
            name,
            np.arange(times.seconds.size, dtype=np.int64) + top.lines + 1,
            times,
            channels.values(),
            channels,
            speed_source_of(
                places["speed_mps"][1].kind if "speed_mps" in places else "",
                [meaning for _, meaning in places.values()],
            ),
            tuple(
                Column(meaning.header, channel, forms.get(channel, meaning.unit or ""))
                for channel, (_, meaning) in places.items()
            ),
            channels.notes,
            own_times=False,
        )
    )
