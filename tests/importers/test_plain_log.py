"""The fast way through logs of plain numbers gives what the ordinary reader gives, or hands the file back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gearfit.errors import LogError
from gearfit.importers import read_log
from gearfit.importers.common.content import read_content
from gearfit.importers.common.plain_bytes import count_delimiters
from gearfit.importers.text.plain_log import read_plain_log
from gearfit.importers.text_file import is_delimited_text, read_with_care
from gearfit.records.recording import Recording
from tests import fuzz
from tests.outside import outside_data

SAMPLES = Path(__file__).parents[2] / "sample_logs"


def everything(recording: Recording) -> dict[str, object]:
    """All fields of a recording in a form in which two can be compared to the last bit."""
    found = dict(vars(recording))
    for name in ("samples", "runs"):
        table = found.pop(name)
        found[f"{name} types"] = [*table.columns, *map(str, table.dtypes), str(table.index)]
        found[name] = [
            column.to_list() if column.dtype == "str" else column.to_numpy().tobytes() for _, column in table.items()
        ]
    return found


def taken(path: Path) -> bool:
    """Whether the fast way takes a file; if so, it has to give all that the ordinary reader gives."""
    fast = read_plain_log(read_content(path, path.name), fuzz.OPTIONS)
    if fast is None:
        return False
    assert everything(fast) == everything(read_with_care(read_content(path, path.name), fuzz.OPTIONS))
    assert everything(fast) == everything(read_log(path, options=fuzz.OPTIONS))
    return True


@pytest.fixture
def written(tmp_path: Path) -> Callable[[str | bytes], Path]:
    def written(content: str | bytes) -> Path:
        path = tmp_path / "ride"
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return path

    return written


Written = Callable[[str | bytes], Path]
ROWS = [f"{k / 10:.1f},{40 + k % 7}.25,{3000 + 20 * k}" for k in range(40)]
PLAIN = "\n".join(("time_s,speed_kmh,rpm", *ROWS))

#: Files that the fast way takes.
TAKEN: dict[str, str | bytes] = {
    "as it is": PLAIN,
    "a last line end": PLAIN + "\n",
    "line ends of two letters": PLAIN.replace("\n", "\r\n"),
    "a mark of the byte order": "\ufeff" + PLAIN,
    "semicolons": PLAIN.replace(",", ";"),
    "tabs": PLAIN.replace(",", "\t"),
    "bars": PLAIN.replace(",", "|"),
    "letters beyond ASCII in the header": PLAIN.replace("rpm", "Motor U/min rpm;°", 1),
    "a Latin-1 header": PLAIN.replace("rpm", "rpm,\xe9", 1).replace("0\n", "0,1\n").encode("latin-1") + b",1",
    "lines above the header": "# a comment\nRide 7\n\n" + PLAIN,
    "a row of units": PLAIN.replace("rpm\n", "rpm\ns,km/h,rpm\n"),
    "units in brackets": PLAIN.replace("time_s,speed_kmh", "Time (min),Speed [mph]"),
    "a column of no use": "\n".join(("time_s,speed_kmh,x,rpm,y", *(row + ",0,0" for row in ROWS))),
    "the rider's own words": PLAIN.replace("speed_kmh", "Tempo"),
    "plus and minus": PLAIN.replace("0.5,40", "+0.5,+40").replace("time_s", "elevation,time_s").replace("\n", "\n-2,"),
    "minus nothing": PLAIN.replace("42.25", "-0.0"),
    "points at the ends": PLAIN.replace("42.25", "42.").replace("43.25", ".25"),
    "15 letters": PLAIN.replace("42.25", "42.123456789012").replace("43.25", "0.0000000000001"),
    "leading zeros": PLAIN.replace("42.25", "00042.25"),
    "Unix seconds": PLAIN.replace("time_s", "time").replace("\n", "\n17000000"),
    "one row": "\n".join(PLAIN.split("\n")[:2]),
    "gears, places, heights": "\n".join(
        ("time_s,gear,lat,lon,altitude_ft,rpm", *(f"{k},{k % 7},50.{k},10,{k},4000" for k in range(30)))
    ),
    "only what the dash showed": PLAIN.replace("speed_kmh", "indicated_kmh"),
    "a receiver's speed": PLAIN.replace("speed_kmh", "GPS speed km/h"),
    "values held": "\n".join(("time_s,speed_kmh,rpm", *(f"{k},{20 + k // 5 * 3},{3000 + k}" for k in range(200)))),
    "all equal": "\n".join(("time_s,speed_kmh,rpm", *(f"{k},50,3000" for k in range(20)))),
}


@pytest.mark.parametrize("label", TAKEN)
def test_the_same_of_plain_files(written: Written, label: str) -> None:
    assert taken(written(TAKEN[label]))


#: What is changed in the plain file, so that only the ordinary reader may read it.
HANDED_BACK = {
    "no value": ("42.25", ""),
    "a word for no value": ("42.25", "-"),
    "another word for it": ("42.25", "nan"),
    "beyond all numbers": ("42.25", "inf"),
    "an underscore": ("42.25", "4_2"),
    "hexadecimal": ("42.25", "0x2A"),
    "an exponent": ("42.25", "4e1"),
    "a slash": ("42.25", "4/2"),
    "two points": ("42.25", "4.2.5"),
    "two signs": ("42.25", "--42"),
    "a sign behind": ("42.25", "42-"),
    "a decimal comma": ("42.25", "42,25"),
    "quotation marks": ("42.25", '"42.25"'),
    "a blank": ("42.25", " 42.25"),
    "16 letters": ("42.25", "42.1234567890123"),
    "digits of another script": ("42.25", "٤٢"),
    "a NUL": ("42.25", "42\0"),
    "a vertical tab": ("42.25", "42.25\v"),
    "a cell too many": ("42.25", "42.25,1"),
    "a cell too few": (",42.25", ""),
    "an empty line": ("\n0.5", "\n\n0.5"),
    "an empty line at the end": ("3780", "3780\n\n"),
    "a lone return": ("\n0.5", "\r0.5,41,3000\r\n0.5"),
    "a return in a cell": ("42.25", "42\r.25"),
    "a comment": ("\n0.5", "\n#0.5"),
    "a comment below": ("\n0.5", "\n# note\n0.5"),
    "the header again": ("\n0.5", "\ntime_s,speed_kmh,rpm\n0.5"),
    "another header": ("\n0.5", "\nrpm,speed_kmh,time_s\n0.5"),
    "a row twice": ("\n0.5,45.25,3100", "\n0.5,45.25,3100\n0.5,45.25,3100"),
    "time running back": ("\n0.5", "\n0.1"),
    "a clock time": ("\n0.5", "\n0:00:05"),
    "impossibly quick": ("42.25", "4225"),
    "below nothing": ("42.25", "-42"),
    "no unit": ("speed_kmh", "indicated"),
    "an unknown unit": ("speed_kmh", "speed (cm/s)"),
    "an engine below idling": ("42.25,3040", "42.25,45"),
    "two times": ("time_s,speed_kmh", "time_s,time_ms"),
    "two speeds": ("speed_kmh,rpm", "speed_kmh,speed_mph"),
    "a date": ("speed_kmh", "date"),
    "thousands": ("time_s,speed_kmh,rpm", "rpm,speed_kmh,time_s"),
    "no time": ("time_s", "x"),
    "no reading": ("speed_kmh,rpm", "lat,lon"),
    "timed runs": ("time_s,speed_kmh,rpm", "from_kmh,to_kmh,time_s"),
    "raw answers": ("speed_kmh", "OBD raw"),
    "no rows": ("\n" + "\n".join(ROWS), ""),
    "no rows below a line end": ("\n".join(ROWS), ""),
    "an end of file of old": ("3780", "3780\x1a"),
}


@pytest.mark.parametrize("label", HANDED_BACK)
def test_handed_back(written: Written, label: str) -> None:
    old, new = HANDED_BACK[label]
    assert old in PLAIN
    assert not taken(written(PLAIN.replace(old, new, 1)))


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be"])
def test_wide_letters_are_handed_back(written: Written, encoding: str) -> None:
    assert not taken(written(PLAIN.encode(encoding)))


def test_a_long_row_beside_a_short_one_is_handed_back(written: Written) -> None:
    """The sum of the delimiters is right, and the missing cell is one that nobody reads."""
    text = "\n".join(("time_s,speed_kmh,x,y", *(f"{k},4{k % 10},1,1" for k in range(30))))
    assert taken(written(text))
    assert not taken(written(text.replace("5,45,1,1", "5,45,1").replace("6,46,1,1", "6,46,1,1,1")))


def test_milliseconds_or_seconds_is_asked_by_the_ordinary_reader(written: Written) -> None:
    path = written("\n".join(("time,speed_kmh", *(f"{100 * k},{k}" for k in range(9)))))
    assert not taken(path)
    with pytest.raises(LogError, match="does not say whether in seconds or milliseconds"):
        read_log(path)


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_a_file_of_several_blocks(written: Written, end: str) -> None:
    rows = [f"{k}.{k % 10},{k % 97}.5,{3000 + k % 89}" for k in range(60_000)]
    path = written(end.join(("time_s,speed_kmh,rpm", *rows)))
    assert path.stat().st_size > 2 * 2**19
    assert taken(path)
    for odd in (3, 30_000, 59_999):
        assert not taken(written(end.join(("time_s,speed_kmh,rpm", *rows[:odd], "x" + rows[odd], *rows[odd + 1 :]))))


@given(st.lists(st.text("0123456789.,\n", max_size=40)), st.integers(1, 50))
def test_a_long_cell_is_found_wherever_blocks_end(texts: list[str], size: int) -> None:
    text = "".join(texts)
    blocks = [text[at : at + size].encode() for at in range(0, len(text), size)]
    longest = max(map(len, text.replace("\n", ",").split(",")))
    assert count_delimiters(blocks, ",") == (None if longest > 15 else text.count(","))


@settings(max_examples=150, deadline=None)
@given(
    st.lists(st.floats(0, 400, allow_subnormal=False).map(lambda value: f"{value:.13g}"[:15]), min_size=1, max_size=40)
)
def test_numbers_are_read_to_the_last_bit(speeds: list[str]) -> None:
    rows = "".join(f"{k},{speed},{k}.5\n" for k, speed in enumerate(speeds))
    with TemporaryDirectory() as folder:
        path = Path(folder) / "ride"
        path.write_text("time_s,speed_kmh,x\n" + rows)
        fast = taken(path)
    assert fast == all("e" not in speed for speed in speeds)


@pytest.mark.parametrize("seed", range(400))
def test_the_same_of_mutated_files(written: Written, seed: int) -> None:
    """A few changes to plain files and to text logs of all kinds."""
    rng = np.random.default_rng([seed, 11])
    if seed % 2:
        taken(written(fuzz.mutated(rng, ("text logs", "own time columns", "sheets")[seed % 3], large=False)))
        return
    labels = sorted(TAKEN)
    content = TAKEN[labels[seed // 2 % len(labels)]]
    data = bytearray(content.encode() if isinstance(content, str) else content)
    for _ in range(int(rng.integers(1, 4))):
        at = int(rng.integers(len(data)))
        if rng.random() < 0.7:
            data[at] = rng.choice(list(b"0123456789.,;-+\n\r\t e"))
        else:
            fuzz.mutate(rng, data)
    taken(written(bytes(data)))


def test_the_same_of_sample_and_open_files() -> None:
    paths = [path for path in SAMPLES.rglob("*.csv") if "report" not in path.parts]
    paths += [*outside_data("gps_drives").glob("*.csv"), *outside_data("obd_car").glob("*.csv")]
    logs = [path for path in paths if is_delimited_text(read_content(path, path.name), fuzz.OPTIONS)]
    assert len(logs) > 10
    assert any([taken(path) for path in logs])
