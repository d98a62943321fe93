"""A module imports only from its own layer and lower ones; every module has a layer; compiled calls are declared."""

import ast
import graphlib
import warnings
from pathlib import Path

import pytest

import geozone
from geozone.compiled import CALLED_FROM_OTHERS

PACKAGE = Path(geozone.__file__).parent

# Lowest first: folders of the package, and modules that lie beside them. A module may import from its own layer, never in
# a circle.
LAYERS = ["errors compiled invocation nearnames plurals", "schema", "numbers", "setcover", "trade", "places", "sharing", "switching", "grouping", "zoning",
          "auditing", "answers summary", "files", "paper", "screens", "jobs", "desk", "cli", "__main__"]
LEVEL = {name: level for level, names in enumerate(LAYERS) for name in names.split()}
FILES = {".".join(path.relative_to(PACKAGE).with_suffix("").parts): path for path in sorted(PACKAGE.rglob("*.py"))
         if path.stem != "__init__"}


def layer_of(module: str) -> int:
    return LEVEL[module.split(".")[0]]


def imports_of(module: str) -> set[str]:
    """Modules of the package that a module imports, wherever in it."""
    found = set()
    home = module.split(".")[:-1]
    for node in ast.walk(ast.parse(FILES[module].read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and (node.level or (node.module or "").split(".")[0] == "geozone"):
            base = home[:len(home) + 1 - node.level] if node.level else []
            stem = [*base, *filter(None, (node.module or "").removeprefix("geozone").strip(".").split("."))]
            found |= {".".join(stem)} | {".".join([*stem, alias.name]) for alias in node.names}
        elif isinstance(node, ast.Import):
            found |= {alias.name.removeprefix("geozone.") for alias in node.names}
    return {name for name in found if name in FILES}


GRAPH = {module: imports_of(module) for module in FILES}


def test_every_module_has_a_layer():
    assert {module.split(".")[0] for module in FILES} == set(LEVEL)
    assert all(len(module.split(".")) <= 2 for module in FILES)
    # The graph is really read: a few imports that are known to be there.
    assert "numbers.sun" in GRAPH["sharing.drift"] and "errors" in GRAPH["jobs.job"] and "jobs.plan" in GRAPH["cli"]


def test_imports_go_downwards():
    upwards = [f"{module} imports {other}" for module, others in GRAPH.items() for other in others
               if layer_of(other) > layer_of(module)]
    assert not upwards


def test_the_search_knows_nothing_of_what_it_is_used_for():
    """Set covers know no dusk, no keypad and nobody who uses them: only how kernels are compiled, and each other."""
    house = {module: others for module, others in GRAPH.items() if module.startswith("setcover.")}
    assert len(house) > 5
    for module, others in house.items():
        assert {other for other in others if not other.startswith("setcover.")} <= {"compiled"}, module
        code = [node for node in ast.walk(ast.parse(FILES[module].read_text(encoding="utf-8")))]
        names = {node.id for node in code if isinstance(node, ast.Name)} | {node.attr for node in code if isinstance(node, ast.Attribute)}
        names |= {node.arg for node in code if isinstance(node, ast.arg)}
        assert not [name for name in names if any(word in name.lower() for word in ("dusk", "dawn", "keypad", "tolerance", "lat_deg", "field"))]


def test_no_circles():
    order = list(graphlib.TopologicalSorter(GRAPH).static_order())  # raises CycleError with the circle
    assert set(order) >= set(GRAPH) and len(order) == len(set(order)) > 200
    with pytest.raises(graphlib.CycleError):
        list(graphlib.TopologicalSorter({**GRAPH, order[0]: {order[-1]}, order[-1]: {order[0]}}).static_order())


def test_modules_have_one_job():
    """Beyond 350 lines a module most likely has two jobs: listed as a warning at the end of the run. Beyond 400 it has."""
    scripts = {path.name: path for path in sorted((PACKAGE / "screens" / "web").rglob("*.js"))}
    count = {name: len(path.read_text(encoding="utf-8").splitlines()) for name, path in (FILES | scripts).items()}
    assert "jobs.plan" in count and "words.js" in count
    long = {name: lines for name, lines in count.items() if lines > 350}
    if long:
        warnings.warn(f"more than 350 lines: {', '.join(f'{name} ({lines})' for name, lines in long.items())}", stacklevel=1)
    assert not {name: lines for name, lines in long.items() if lines > 400}


def test_compiled_functions_called_from_other_modules_are_declared():
    """Otherwise an update could run stale machine code: see compiled.py."""
    def compiles(path):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        return {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)
                and any("njit" in ast.dump(d) or "kernel" in ast.dump(d) for d in node.decorator_list)}

    compiled = {name: names for name, path in FILES.items() if (names := compiles(path))}
    called = set()
    for module in compiled:
        for node in ast.walk(ast.parse(FILES[module].read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module:
                for other in GRAPH[module] & set(compiled):
                    if other.split(".")[-1] == node.module.split(".")[-1] and {a.name for a in node.names} & compiled[other]:
                        called.add(other.replace(".", "/") + ".py")
    assert called and called <= set(CALLED_FROM_OTHERS), called
