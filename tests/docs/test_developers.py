"""DEVELOPERS.md leads to files that are there: the ten changes, the modules of the layers."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
CHANGES = TEXT.split("## Where a change goes")[1].split("\n## ")[0]
ROWS = re.findall(r"(?m)^\| (?!change \|)([^|]+) \| (.+) \|$", CHANGES)


def test_the_ten_changes_name_files_that_are_there():
    wanted = ("format", "column", "key of the job", "threshold", "summary", "slip", "PDF", "map", "keypad", "machines")
    assert len(ROWS) == len(wanted) and all(word in change for (change, _), word in zip(ROWS, wanted))
    for change, files in ROWS:
        paths = re.findall(r"`([\w./]+/[\w./]*)`", files)
        assert paths, change
        for path in paths:
            assert (ROOT / path).is_dir() if path.endswith("/") else (ROOT / path).is_file(), path


def test_what_the_list_rests_on_still_holds():
    """The registries by which few files suffice: a change of them is a change of the list."""
    from dataclasses import fields

    from geozone.jobs.sections import DarkSection, KeypadSection
    from geozone.numbers.daylight import THRESHOLDS
    from geozone.trade.keypad import Keypad

    assert set(DarkSection.model_fields) == set(THRESHOLDS)
    assert {one.name for one in fields(Keypad)} - {"clocks"} <= set(KeypadSection.model_fields)
    pools = {path.relative_to(ROOT).as_posix() for path in (ROOT / "geozone").rglob("*.py") if "ThreadPoolExecutor" in path.read_text(encoding="utf-8")}
    assert pools == {"geozone/numbers/cores.py"}


def test_the_layers_name_every_module_and_no_other():
    table = TEXT.split("## Layers")[1].split("\n## ")[0]
    rows = re.findall(r"(?m)^\| `(\w+)/` \| ([^|]+) \|", table)
    assert len(rows) > 8 and {folder for folder, _ in rows} == {path.parent.name for path in (ROOT / "geozone").glob("*/__init__.py")}
    for folder, modules in rows:
        named = {name for name in re.findall(r"[a-z_0-9]+", re.sub(r"`[^`]*`", "", modules))}
        assert named == {path.stem for path in (ROOT / "geozone" / folder).glob("*.py")} - {"__init__"}, folder
