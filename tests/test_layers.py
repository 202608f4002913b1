"""Imports run in one direction: reads those of every module."""

from __future__ import annotations

import ast
import importlib.util
from collections.abc import Iterator
from graphlib import TopologicalSorter
from pathlib import Path
from typing import NamedTuple

import pytest

import gearfit

PACKAGE = Path(gearfit.__file__).parent

BASE = (
    "errors units brief version schema tyre bike atmosphere bike_rules bike_file recording estimate "
    "speedometer_results thrust_results span_results track_results results words swap_words "
    "terminal own_files whole_files second_process tidy html_table result_frames new_folder"
)

#: Layer -> (its modules or packages under gearfit, the layers below that it may import).
LAYERS = {
    "base": (BASE, ""),
    "prediction": ("prediction", "base"),
    "planning": ("planning", "base prediction"),
    "plain_text": ("plain_text", "base prediction planning"),
    "test_card": ("test_card", "base planning plain_text"),
    "simulation": ("simulation", "base prediction"),
    "importers": ("importers", "base"),
    "fitting": ("fitting", "base importers"),
    "thrust": ("thrust", "base importers fitting prediction"),
    "spans": ("spans", "base importers fitting"),
    "comparison": ("comparison", "base importers fitting spans prediction"),
    "analysis": ("analysis arrays findings", "base importers fitting thrust spans comparison prediction"),
    "report": ("report", "base"),
    "outputs": ("export watch batch", "base importers fitting spans comparison prediction analysis report"),
    "command line": (
        "cli __main__ command_options command_predict command_plan command_speedometer "
        "command_common command_completion command_files",
        "base prediction planning plain_text test_card importers fitting thrust spans comparison analysis report "
        "outputs",
    ),
    "public names": ("", "base importers fitting spans comparison prediction analysis report"),
}

#: Library -> the only layers that may import it.
LIBRARIES = {
    "matplotlib": ("report",),
    "matplotlib.pyplot": (),
    "pylab": (),
    "jinja2": ("report", "test_card", "outputs"),
    "gpxpy": ("simulation", "outputs"),
    "socket": (),
    "http": (),
    "urllib.request": (),
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
    tree = ast.parse(source)
    for node, at_load in _statements(tree, at_load=True):
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


def layer_of(name: str) -> str:
    """Return the layer of a module of gearfit, e.g. gearfit.fitting.york."""
    part = f"{name}.".split(".")[1]
    for layer, (members, _) in LAYERS.items():
        if part in (members.split() or [""]):
            return layer
    raise AssertionError(f"{name} is in no layer; put it into LAYERS")


MODULES = {
    ".".join(("gearfit", *path.relative_to(PACKAGE).with_suffix("").parts)).removesuffix(".__init__"): path
    for path in sorted(PACKAGE.rglob("*.py"))
}


def package_of(module: str) -> str:
    return module if MODULES[module].name == "__init__.py" else module.rpartition(".")[0]


def imports_of(module: str) -> list[Import]:
    return list(imports(MODULES[module].read_text(encoding="utf-8"), package_of(module)))


def own_imports_of(module: str) -> dict[str, Import]:
    """Return the modules of gearfit that a module imports, or takes a name from."""
    found: dict[str, Import] = {}
    for item in imports_of(module):
        if within(item.name, "gearfit"):
            name = item.name
            while name not in MODULES:
                name = name.rpartition(".")[0]
            found[name] = item
    return found


@pytest.mark.parametrize("module", MODULES)
def test_imports_only_from_lower_layers(module: str) -> None:
    layer = layer_of(module)
    allowed = {layer, *LAYERS[layer][1].split()}
    wrong = [
        f"line {item.line}: {name} ({layer_of(name)})"
        for name, item in own_imports_of(module).items()
        if layer_of(name) not in allowed
    ]
    assert not wrong, f"{module} ({layer}) may import {sorted(allowed)} only"


@pytest.mark.parametrize("module", MODULES)
def test_libraries_stay_in_their_layer(module: str) -> None:
    layer = layer_of(module)
    wrong = [
        f"line {item.line}: {item.name}"
        for item in imports_of(module)
        for library, layers in LIBRARIES.items()
        if within(item.name, library) and layer not in layers
    ]
    assert not wrong, f"{module} ({layer})"


@pytest.mark.parametrize("module", MODULES)
def test_slow_libraries_are_loaded_late(module: str) -> None:
    wrong = [
        f"line {item.line}: {item.name}"
        for item in imports_of(module)
        if item.at_load and any(within(item.name, library) for library in LATE)
    ]
    assert not wrong, f"{module}: import it inside the function that needs it"


def test_layers_are_in_order_and_no_two_modules_import_each_other() -> None:
    names = list(LAYERS)
    for index, (_, below) in enumerate(LAYERS.values()):
        assert set(below.split()) <= set(names[:index])
    graph = {module: set(own_imports_of(module)) - {module} for module in MODULES}
    assert len(list(TopologicalSorter(graph).static_order())) == len(MODULES)


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


@pytest.mark.parametrize(
    ("name", "layer"),
    [
        ("gearfit", "public names"),
        ("gearfit.units", "base"),
        ("gearfit.new_folder", "base"),
        ("gearfit.fitting.york", "fitting"),
        ("gearfit.findings.gears", "analysis"),
        ("gearfit.cli", "command line"),
    ],
)
def test_layer_of(name: str, layer: str) -> None:
    assert layer_of(name) == layer


def test_a_module_in_no_layer_is_named() -> None:
    with pytest.raises(AssertionError) as caught:
        layer_of("gearfit.gadget")
    assert str(caught.value) == "gearfit.gadget is in no layer; put it into LAYERS"
