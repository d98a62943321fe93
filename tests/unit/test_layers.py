"""A module imports only from its own layer and lower ones; every module has a layer; compiled calls are declared."""

import ast
from pathlib import Path

import geozone
from geozone.compiled import CALLED_FROM_OTHERS

PACKAGE = Path(geozone.__file__).parent

# Lowest first. A module may import from its own layer, never in a circle.
LAYERS = [
    {"errors", "compiled"},
    {"almanac", "crossing", "comparison", "sun", "daylight", "clock", "packed", "civil", "intervals", "boxes"},
    {"keypad", "setting", "programme", "latch", "dayplan", "switchclock"},
    {"cells", "numerals", "delimited", "workbooks", "geofiles", "tables", "columns", "coordinates", "projections", "loads",
     "sitechecks", "sites", "areas", "zoneshapes", "zoneborders", "zonepieces", "legalzones", "lattice"},
    {"drift", "shared", "sitedrift", "spread", "second_opinion", "answers", "summary", "groups", "cover", "coversearch", "coverswaps", "relaxation", "search", "field", "keylattice",
     "fewest", "witnesses", "groupplans", "grouprecords", "groupsites", "curve", "grouphulls", "groupanswers", "programmeanswers",
     "existinggroups", "hours", "foolish", "cure", "timetable", "programme_year", "burning", "tariff"},
    {"folder", "spreadsheets", "looks", "geopackage", "files", "mapcolumns", "mapdata", "mapgroups", "mapoutlines", "mappage", "mapprogrammes", "mapwords",
     "mapyears",
     "webmap", "console", "preparing", "programmefiles", "yearpicture", "hourspicture"},
    {"job", "jobplaces", "switchingjob", "programme_sections", "programmeplan", "examples", "placetimes", "groupplan", "plan", "cli"},
]
LEVEL = {name: level for level, names in enumerate(LAYERS) for name in names}


def imports_of(path: Path) -> set[str]:
    """Modules of the package that a file imports, wherever in it."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and (node.level or (node.module or "").split(".")[0] == "geozone"):
            module = (node.module or "").removeprefix("geozone").strip(".")
            found |= {module.split(".")[0]} if module else {alias.name for alias in node.names}
        elif isinstance(node, ast.Import):
            found |= {alias.name.split(".")[1] for alias in node.names if alias.name.startswith("geozone.")}
    return {name for name in found if (PACKAGE / f"{name}.py").exists()}


GRAPH = {path.stem: imports_of(path) for path in sorted(PACKAGE.glob("*.py")) if path.stem != "__init__"}


def test_every_module_has_a_layer():
    assert set(GRAPH) <= set(LEVEL), sorted(set(GRAPH) - set(LEVEL))


def test_imports_go_downwards():
    upwards = [f"{module} imports {other}" for module, others in GRAPH.items() for other in others
               if LEVEL[other] > LEVEL[module]]
    assert not upwards


def test_no_circles():
    def visit(module, path):
        assert module not in path, " -> ".join([*path, module])
        for other in GRAPH[module]:
            visit(other, (*path, module))

    for module in GRAPH:
        visit(module, ())


def test_modules_have_one_job():
    long = {path.name: n for path in PACKAGE.glob("*.py") if (n := len(path.read_text(encoding="utf-8").splitlines())) > 350}
    assert not long


def test_compiled_functions_called_from_other_modules_are_declared():
    """Otherwise an update could run stale machine code: see compiled.py."""
    def compiles(path):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        return {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)
                and any("njit" in ast.dump(d) or "kernel" in ast.dump(d) for d in node.decorator_list)}

    compiled = {path.stem: names for path in PACKAGE.glob("*.py") if (names := compiles(path))}
    called = set()
    for module in compiled:
        for node in ast.walk(ast.parse((PACKAGE / f"{module}.py").read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module in compiled:
                if {alias.name for alias in node.names} & compiled[node.module]:
                    called.add(f"{node.module}.py")
    assert called and called <= set(CALLED_FROM_OTHERS), called
