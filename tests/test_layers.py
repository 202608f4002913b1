"""Imports run in one direction, from room to room: reads those of every module."""

from __future__ import annotations

import ast
import importlib.util
from collections.abc import Iterator
from graphlib import TopologicalSorter
from pathlib import Path
from typing import NamedTuple

import gearfit

PACKAGE = Path(gearfit.__file__).parent

#: Room -> the rooms that it may import, all of which stand above it. A room is a folder; "top" is what stands beside
#: them, and any room may import it. The picture of DEVELOPERS.md is this table.
ROOMS = {
    "machine": "",
    "records": "machine",
    "importers.common": "machine records",
    "importers.text": "machine records importers.common",
    "importers.sheet": "machine records importers.common importers.text",
    "importers.gpx": "records importers.common",
    "importers.nmea": "records importers.common",
    "importers.sound": "machine records importers.common",
    "importers": "machine records importers.common importers.text importers.sheet importers.gpx "
    "importers.nmea importers.sound",
    "fitting.pairing": "records",
    "fitting.which_gear": "machine fitting.pairing",
    "fitting.ratios": "records fitting.pairing fitting.which_gear",
    "fitting.readings": "importers.sheet fitting.pairing fitting.which_gear fitting.ratios",
    "fitting.gathering": "records fitting.pairing fitting.which_gear",
    "fitting.held": "records importers.common fitting.pairing fitting.which_gear fitting.gathering",
    "fitting": "machine records fitting.pairing fitting.which_gear fitting.ratios fitting.readings "
    "fitting.gathering fitting.held",
    "speedometer": "machine records fitting.which_gear fitting.ratios fitting.gathering fitting.held fitting",
    "timed": "machine records fitting.pairing fitting.ratios fitting.gathering fitting",
    "prediction": "machine records",
    "prediction.planning": "records prediction",
    "thrust": "machine records fitting.pairing fitting.ratios prediction",
    "comparison": "machine records fitting.ratios fitting timed prediction",
    "wording": "machine records prediction prediction.planning",
    "findings": "machine records importers.common importers.text importers fitting.which_gear "
    "fitting.ratios fitting.readings fitting.gathering fitting.held fitting speedometer timed "
    "prediction thrust comparison wording",
    "report.tables": "records",
    "report.figures": "records report.tables",
    "report.page": "records report.tables report.figures",
    "report.files": "machine records report.figures report.page",
    "report": "report.files",
    "report.card": "records prediction.planning wording",
    "batch": "records importers comparison wording findings report.files report",
    "commands.new_folder": "",
    "commands.watch": "",
    "local_page": "machine records importers.common importers prediction wording batch commands.new_folder "
    "commands.watch",
    "commands": "local_page machine records importers speedometer timed prediction prediction.planning thrust "
    "comparison wording findings report.files report report.card batch commands.new_folder "
    "commands.watch",
}
#: What the public names may come from.
PUBLIC = "machine records importers timed prediction findings report commands"

#: Library -> the only rooms that may import it.
LIBRARIES = {
    "matplotlib": "report.figures",
    "matplotlib.pyplot": "",
    "pylab": "",
    "jinja2": "report.page report.card batch local_page",
    "gpxpy": "report.files",
    "python_calamine": "importers.sheet",
    "flask": "local_page",
    "waitress": "local_page",
    "werkzeug": "local_page",
    "tomlkit": "local_page",
    "platformdirs": "local_page",
    "socket": "",
    "http": "",
    "urllib.request": "",
}

#: Slow to load: only inside the function that needs it.
LATE = ("scipy.stats",)


class Import(NamedTuple):
    """One imported name, dotted, and whether loading the module loads it."""

    name: str
    line: int
    at_load: bool


def imports(source: str, package: str) -> Iterator[Import]:
    """Yield everything that a module of `package` imports; `from a import b` yields a.b."""
    for node, at_load in _statements(ast.parse(source), at_load=True):
        if isinstance(node, ast.Import):
            yield from (Import(alias.name, node.lineno, at_load) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            module = importlib.util.resolve_name("." * node.level + (node.module or ""), package)
            yield from (Import(f"{module}.{alias.name}", node.lineno, at_load) for alias in node.names)


def _statements(node: ast.AST, *, at_load: bool) -> Iterator[tuple[ast.AST, bool]]:
    for child in ast.iter_child_nodes(node):
        later = isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
        yield child, at_load
        yield from _statements(child, at_load=at_load and not later)


def within(name: str, root: str) -> bool:
    """Tell whether a dotted name is `root` or lies below it."""
    return name == root or name.startswith(f"{root}.")


MODULES = {
    ".".join(("gearfit", *path.relative_to(PACKAGE).with_suffix("").parts)).removesuffix(".__init__"): path
    for path in sorted(PACKAGE.rglob("*.py"))
}
IMPORTS = {
    module: list(imports(path.read_text("utf-8"), module if path.name == "__init__.py" else module.rpartition(".")[0]))
    for module, path in MODULES.items()
}


def room_of(module: str) -> str:
    """Return the room of a module: its folder below the package, "top" for what stands beside the rooms."""
    folder = module if MODULES[module].name == "__init__.py" else module.rpartition(".")[0]
    return folder.removeprefix("gearfit").removeprefix(".") or "top"


def own_imports_of(module: str) -> dict[str, Import]:
    """Return the modules of gearfit that a module imports, or takes a name from."""
    found: dict[str, Import] = {}
    for item in IMPORTS[module]:
        name = item.name
        if within(name, "gearfit"):
            while name not in MODULES:
                name = name.rpartition(".")[0]
            found[name] = item
    return found


def test_each_room_imports_only_from_those_above_it() -> None:
    wrong = []
    for module in MODULES:
        room = room_of(module)
        assert room == "top" or room in ROOMS, f"{room} is no room yet: put it into ROOMS, and into DEVELOPERS.md"
        allowed = {room, "top", *(ROOMS[room] if room != "top" else PUBLIC if module == "gearfit" else "").split()}
        allowed |= {"commands"} if module == "gearfit.__main__" else set()
        wrong += [
            f"{module}, line {item.line}: {name}"
            for name, item in own_imports_of(module).items()
            if room_of(name) not in allowed
        ]
    assert wrong == []


def test_rooms_stand_in_order_and_no_two_modules_import_each_other() -> None:
    names = list(ROOMS)
    for index, below in enumerate(ROOMS.values()):
        assert set(below.split()) <= set(names[:index]), names[index]
    graph = {module: set(own_imports_of(module)) - {module} for module in MODULES}
    assert len(list(TopologicalSorter(graph).static_order())) == len(MODULES)


def test_no_room_is_allowed_what_it_does_not_import() -> None:
    """Else the table would say less with every year."""
    used: dict[str, set[str]] = {room: set() for room in ROOMS}
    for module in MODULES:
        if (room := room_of(module)) != "top":
            used[room] |= {room_of(name) for name in own_imports_of(module)}
    assert {
        room: sorted(set(below.split()) - used[room])
        for room, below in ROOMS.items()
        if set(below.split()) - used[room]
    } == {}


def test_libraries_stay_in_their_rooms_and_slow_ones_are_loaded_late() -> None:
    wrong = []
    for module in MODULES:
        for item in IMPORTS[module]:
            places = [rooms.split() for library, rooms in LIBRARIES.items() if within(item.name, library)]
            late = item.at_load and any(within(item.name, library) for library in LATE)
            if late or any(room_of(module) not in rooms for rooms in places):
                wrong.append(f"{module}, line {item.line}: {item.name}")
    assert wrong == []


def test_the_reader_of_imports_finds_what_is_there() -> None:
    source = "\n".join(
        (
            "import numpy as np, scipy.stats",
            "from matplotlib import pyplot",
            "from gearfit import units",
            "from . import noise",
            "from ..report.style import ink",
            "if True:",
            "    import socket",
            "def later():",
            "    from scipy import stats",
            "class Now:",
            "    import http",
        )
    )
    found = {(item.name, item.line, item.at_load) for item in imports(source, "gearfit.fitting")}
    assert found == {
        ("numpy", 1, True),
        ("scipy.stats", 1, True),
        ("matplotlib.pyplot", 2, True),
        ("gearfit.units", 3, True),
        ("gearfit.fitting.noise", 4, True),
        ("gearfit.report.style.ink", 5, True),
        ("socket", 7, True),
        ("scipy.stats", 9, False),
        ("http", 11, True),
    }
