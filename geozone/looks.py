"""The default look of every layer in a desktop GIS.

A look is a QML document, the open style format of desktop GIS, kept in the GeoPackage beside the layer. Shape or hatch carries
the meaning as well as colour, so that a grey print and a colour-blind reader lose nothing. Colours are those of Okabe and Ito
("Color Universal Design", 2008); light ones get a dark outline.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from xml.etree import ElementTree as xml

INK = "34,34,34,255"
PAPER = "255,255,255,255"
BLUE = "0,114,178,255"
VERMILLION = "213,94,0,255"
PURPLE = "204,121,167,255"
GREY = "110,110,110,255"

# verdict -> (marker shape, fill, size in mm). The larger and the more angular, the more it needs a look.
VERDICT_MARKS = {
    "within": ("circle", BLUE, "2.0"),
    "beyond": ("diamond", VERMILLION, "3.4"),
    "other clock": ("square", PURPLE, "2.6"),
}
_VERDICT_LABELS = {"within": "within tolerance", "beyond": "beyond tolerance", "other clock": "on another clock"}

_HATCHES = ("b_diagonal", "f_diagonal", "horizontal", "vertical", "cross", "diagonal_x")


def site_look() -> str:
    """Sites by verdict: circle, diamond, square."""
    marks = [_mark(str(i), *VERDICT_MARKS[verdict]) for i, verdict in enumerate(VERDICT_MARKS)]
    cases = [(verdict, _VERDICT_LABELS[verdict]) for verdict in VERDICT_MARKS]
    return _document("point", _by_value("verdict", cases, marks))


def area_look() -> str:
    """Areas as a quiet outline with their names."""
    fill = _symbol("fill", "0", [("SimpleFill", {"style": "no", "outline_color": GREY, "outline_style": "solid",
                                                 "outline_width": "0.5", "outline_width_unit": "MM"})])
    return _document("polygon", _single(fill), _labels("area", "polygon", size="10", color=GREY))


def piece_look(clock_rules: Iterable[str]) -> str:
    """Pieces of areas, a hatch a clock rule."""
    texts = sorted(set(clock_rules))
    fills = [_symbol("fill", str(i), [("SimpleFill", {"style": _HATCHES[i % len(_HATCHES)], "color": "110,110,110,140",
                                                      "outline_color": INK, "outline_style": "dash",
                                                      "outline_width": "0.3", "outline_width_unit": "MM"})])
             for i in range(len(texts))]
    return _document("polygon", _by_value("clock_rule_text", [(text, text) for text in texts], fills))


def drift_line_look() -> str:
    """The tolerance line heavy, other drift lines light, lines of equal dusk dotted; each with its label."""
    lines = [_line("0", VERMILLION, "1.1", "solid"), _line("1", GREY, "0.35", "solid"), _line("2", BLUE, "0.35", "dot")]
    cases = [("tolerance", "tolerance line"), ("drift", "equal worst drift"), ("dusk", "equal dusk")]
    return _document("line", _by_value("kind", cases, lines), _labels("label", "line", size="9", color=INK))


def lattice_look() -> str:
    """Lattice points by their drift in units of the tolerance: grey steps, then the warning colour."""
    steps: Sequence[tuple[str, str, str, str]] = (
        ("0", "0.5", "at most half the tolerance", "235,235,235,255"),
        ("0.5", "1", "within tolerance", "190,190,190,255"),
        ("1", "2", "up to twice the tolerance", "240,170,110,255"),
        ("2", "1000000", "more than twice the tolerance", VERMILLION))
    marks = [_mark(str(i), "cross_fill" if i > 1 else "circle", step[3], "1.6") for i, step in enumerate(steps)]
    renderer = xml.Element("renderer-v2", type="graduatedSymbol", attr="tolerance_factor",
                           graduatedMethod="GraduatedColor", symbollevels="0", enableorderby="0", forceraster="0")
    ranges = xml.SubElement(renderer, "ranges")
    for i, (lower, upper, label, _) in enumerate(steps):
        xml.SubElement(ranges, "range", lower=lower, upper=upper, symbol=str(i), label=label, render="true")
    xml.SubElement(renderer, "symbols").extend(marks)
    return _document("point", renderer)


def _document(geometry: str, renderer: xml.Element, labels: xml.Element | None = None) -> str:
    root = xml.Element("qgis", version="3.28", styleCategories="Symbology|Labeling",
                       labelsEnabled="0" if labels is None else "1")
    root.append(renderer)
    if labels is not None:
        root.append(labels)
    xml.SubElement(root, "layerGeometryType").text = str(("point", "line", "polygon").index(geometry))
    xml.indent(root)
    return "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n" + xml.tostring(root, encoding="unicode") + "\n"


def _by_value(column: str, cases: Sequence[tuple[str, str]], symbols: Sequence[xml.Element]) -> xml.Element:
    renderer = xml.Element("renderer-v2", type="categorizedSymbol", attr=column, symbollevels="0", enableorderby="0",
                           forceraster="0")
    categories = xml.SubElement(renderer, "categories")
    for i, (value, label) in enumerate(cases):
        xml.SubElement(categories, "category", value=value, type="string", symbol=str(i), label=label, render="true")
    xml.SubElement(renderer, "symbols").extend(symbols)
    return renderer


def _single(symbol: xml.Element) -> xml.Element:
    renderer = xml.Element("renderer-v2", type="singleSymbol", symbollevels="0", enableorderby="0", forceraster="0")
    xml.SubElement(renderer, "symbols").append(symbol)
    return renderer


def _mark(name: str, shape: str, fill: str, size_mm: str) -> xml.Element:
    return _symbol("marker", name, [("SimpleMarker", {
        "name": shape, "color": fill, "size": size_mm, "size_unit": "MM", "outline_color": INK, "outline_style": "solid",
        "outline_width": "0.25", "outline_width_unit": "MM"})])


def _line(name: str, color: str, width_mm: str, style: str) -> xml.Element:
    return _symbol("line", name, [("SimpleLine", {
        "line_color": color, "line_width": width_mm, "line_width_unit": "MM", "line_style": style, "capstyle": "round",
        "joinstyle": "round"})])


def _symbol(kind: str, name: str, layers: Sequence[tuple[str, dict[str, str]]]) -> xml.Element:
    symbol = xml.Element("symbol", type=kind, name=name, alpha="1", clip_to_extent="1", force_rhr="0")
    for class_name, properties in layers:
        layer = xml.SubElement(symbol, "layer", {"class": class_name, "enabled": "1", "locked": "0", "pass": "0"})
        options = xml.SubElement(layer, "Option", type="Map")
        for key, value in properties.items():
            xml.SubElement(options, "Option", name=key, type="QString", value=value)
        # The same again in the form that programs before 2021 read; newer ones prefer the options above.
        for key, value in properties.items():
            xml.SubElement(layer, "prop", k=key, v=value)
    return symbol


def _labels(column: str, geometry: str, *, size: str, color: str) -> xml.Element:
    labeling = xml.Element("labeling", type="simple")
    settings = xml.SubElement(labeling, "settings", calloutType="simple")
    style = xml.SubElement(settings, "text-style", fieldName=column, isExpression="0", fontFamily="sans-serif",
                           fontSize=size, fontSizeUnit="Point", textColor=color, textOpacity="1")
    xml.SubElement(style, "text-buffer", bufferDraw="1", bufferSize="0.9", bufferSizeUnits="MM", bufferColor=PAPER,
                   bufferOpacity="1", bufferNoFill="0")
    if geometry == "line":  # 2 = along the line, flag 1 = on it
        xml.SubElement(settings, "placement", placement="2", placementFlags="1", dist="0", distUnits="MM")
    else:  # 1 = over the polygon's centre, and inside the polygon
        xml.SubElement(settings, "placement", placement="1", centroidInside="1", centroidWhole="0", dist="0",
                       distUnits="MM")
    xml.SubElement(settings, "rendering", drawLabels="1", obstacle="1", mergeLines="0", scaleVisibility="0")
    return labeling
