"""Which time column each channel belongs to, where channels were sampled at different moments."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from gearfit.importers.common.headers import TIME_WORDS, Meaning, read_header, words_of

Meanings = tuple[Meaning | None, ...]

#: A time column counts as one of its own only where at least two of them have one of these.
_READINGS: Final = frozenset(("speed_mps", "indicated_mps", "engine_rpm", "obd"))


@dataclass(frozen=True)
class TimedGroup:
    """A time column (its number and meaning) and the columns sampled at its moments, by number."""

    time: int
    meaning: Meaning
    columns: dict[int, Meaning]


def timed_groups(meanings: Meanings) -> tuple[TimedGroup, ...]:
    """Find the channels of each time column.

    A channel belongs to a time column that names it (`time_rpm_s`), else to the nearest to its left.

    Returns
    -------
    tuple of TimedGroup
        In the order of the time columns; none where the log is an ordinary one: unless two time columns have a speed
        or engine speed each, and all either name a channel of theirs or have one header in common.
    """
    times = {number: each for number, each in enumerate(meanings) if each is not None and each.channel == "time_s"}
    if len(times) < 2:
        return ()
    owned: dict[int, dict[int, Meaning]] = {time: {} for time in times}
    for number, meaning in enumerate(meanings):
        if meaning is not None and meaning.channel not in ("time_s", "date"):
            owned[_owner(number, meaning, times)][number] = meaning
    groups = tuple(TimedGroup(time, times[time], columns) for time, columns in owned.items() if columns)
    with_reading = sum(not _READINGS.isdisjoint(_channels(group)) for group in groups)
    return groups if with_reading >= 2 and (_one_header(groups) or _all_named(groups)) else ()


def _owner(number: int, meaning: Meaning, times: dict[int, Meaning]) -> int:
    naming = [time for time, each in times.items() if _named_channel(each) == meaning.channel]
    left = [time for time in naming or times if time < number]
    return left[-1] if left else next(iter(naming or times))


def _one_header(groups: tuple[TimedGroup, ...]) -> bool:
    """Whether all time columns have the same words, so that none of them is another kind of time."""
    return len({tuple(_words(group.meaning)) for group in groups}) == 1


def _all_named(groups: tuple[TimedGroup, ...]) -> bool:
    return all(_named_channel(group.meaning) in _channels(group) for group in groups)


def _channels(group: TimedGroup) -> set[str]:
    return {meaning.channel for meaning in group.columns.values()}


def _named_channel(time: Meaning) -> str | None:
    """Channel that the header of a time column names, or None."""
    named = read_header(" ".join(word for word in _words(time) if word not in TIME_WORDS))
    return None if named is None else named.channel


def _words(time: Meaning) -> list[str]:
    return [word for word in words_of(time.header) if not word.isdigit()]
