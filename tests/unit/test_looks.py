"""The default looks are sound documents that fit the layers."""

import re
from pathlib import Path
from xml.etree import ElementTree as xml

import pytest
import shapely

from geozone.files import looks
from geozone.grouping.grouphues import HUES, hues_apart

VERDICTS = {"within", "beyond", "other clock"}
EVERY_LOOK = {
    "sites": looks.site_look(), "areas": looks.area_look(), "area_pieces": looks.piece_look(["UTC+10:00", "UTC+09:30"]),
    "drift_lines": looks.drift_line_look(), "lattice": looks.lattice_look(),
              "groups": looks.group_look(list("ABC"), [(0, 0), (1, 0), (0, 1)])}


def options(symbol):
    return {option.get("name"): option.get("value") for option in symbol.find("layer/Option")}


def categories(look):
    root = xml.fromstring(look)
    symbols = {symbol.get("name"): symbol for symbol in root.iter("symbol")}
    return {case.get("value"): options(symbols[case.get("symbol")]) for case in root.iter("category")}


@pytest.mark.parametrize("name", EVERY_LOOK)
def test_every_class_has_its_symbol_and_every_symbol_its_class(name):
    root = xml.fromstring(EVERY_LOOK[name])
    assert root.tag == "qgis"
    defined = [symbol.get("name") for symbol in root.iter("symbol")]
    used = [case.get("symbol") for case in [*root.iter("category"), *root.iter("range")]] or ["0"]
    assert sorted(used) == sorted(defined) and len(set(defined)) == len(defined)


@pytest.mark.parametrize("name, geometry, symbol", [("sites", "0", "marker"), ("drift_lines", "1", "line"),
                                                    ("areas", "2", "fill"), ("area_pieces", "2", "fill"), ("groups", "2", "fill"),
                                                    ("lattice", "0", "marker")])
def test_the_symbols_fit_the_geometry(name, geometry, symbol):
    root = xml.fromstring(EVERY_LOOK[name])
    assert root.findtext("layerGeometryType") == geometry
    assert {found.get("type") for found in root.iter("symbol")} == {symbol}


def test_verdicts_differ_in_shape_in_colour_and_in_size():
    marks = categories(EVERY_LOOK["sites"])
    assert set(marks) == VERDICTS
    for property_name in ("name", "color", "size"):
        assert len({mark[property_name] for mark in marks.values()}) == 3


def test_verdict_signs_hold_three_to_one_against_paper_by_fill_or_rim():
    """WCAG 2.2, 1.4.11: graphics 3:1. Contrast computed here from the definition of relative luminance in WCAG."""
    def contrast(color):
        parts = [int(part) / 255 for part in color.split(",")[:3]]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return 1.05 / (0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2] + 0.05)
    for mark in categories(EVERY_LOOK["sites"]).values():
        assert max(contrast(mark["outline_color"]), contrast(mark["color"])) >= 3


def test_verdict_signs_have_the_colours_of_the_map_page():
    scheme = (Path(looks.__file__).parents[1] / "screens" / "web" / "scheme.js").read_text(encoding="utf-8")
    light = scheme.split("light: {")[1].split("}")[0]
    page = {name: tuple(int(digits[i:i + 2], 16) for i in (0, 2, 4))
            for name, digits in re.findall(r'(\w+): "#([0-9a-f]{6})"', light)}
    for ours, name in ((looks.LAMP, "lamp"), (looks.LAMP_RIM, "lampRim"), (looks.INK, "ink"), (looks.CLOCK, "clock")):
        assert tuple(map(int, ours.split(",")[:3])) == page[name], name


def test_the_tolerance_line_is_the_heaviest_and_lines_carry_their_labels():
    lines = categories(EVERY_LOOK["drift_lines"])
    assert set(lines) == {"tolerance", "drift", "dusk"}
    widths = {kind: float(line["line_width"]) for kind, line in lines.items()}
    assert widths["tolerance"] >= 2 * max(widths["drift"], widths["dusk"])
    root = xml.fromstring(EVERY_LOOK["drift_lines"])
    assert root.get("labelsEnabled") == "1"
    assert root.find("labeling/settings/text-style").get("fieldName") == "label"


def test_pieces_get_a_hatch_a_clock_rule_whatever_the_text():
    hostile = '"><script>&'
    pieces = categories(looks.piece_look(["b", "a", "b", hostile]))
    assert set(pieces) == {"a", "b", hostile}
    assert len({piece["style"] for piece in pieces.values()}) == 3
    assert categories(looks.piece_look([])) == {}


def test_lattice_steps_meet_without_gap_and_one_is_the_tolerance():
    steps = [(float(step.get("lower")), float(step.get("upper")))
             for step in xml.fromstring(EVERY_LOOK["lattice"]).iter("range")]
    assert steps[0][0] == 0
    assert [upper for _, upper in steps[:-1]] == [lower for lower, _ in steps[1:]]
    assert 1.0 in [upper for _, upper in steps]


def test_26_groups_differ_in_hue_or_hatch_and_carry_their_letters():
    names = [chr(65 + i) for i in range(26)]
    look = looks.group_look(names, hues_apart([shapely.box(i % 6, i // 6, i % 6 + 1, i // 6 + 1) for i in range(26)]))
    fills = categories(look)
    assert list(fills) == names
    assert len({(fill["outline_color"], fill["style"]) for fill in fills.values()}) == 26
    assert xml.fromstring(look).find("labeling/settings/text-style").get("fieldName") == "group"


def test_groups_have_the_hues_of_the_page():
    script = (Path(looks.__file__).parents[1] / "screens" / "web" / "groups.js").read_text(encoding="utf-8")
    page = re.findall(r'fill: "#(\w{6})", ink: "#(\w{6})"', script)
    assert len(page) == HUES == len(looks.GROUP_HUES)
    for on_page, in_look in zip(page, looks.GROUP_HUES, strict=True):
        assert [",".join(str(int(hexed[k:k + 2], 16)) for k in (0, 2, 4)) for hexed in on_page] == list(in_look)
