"""The default look of every layer in a desktop GIS: the same signs as on the map page.

A look is a QML document, the open style format of desktop GIS, kept in the GeoPackage beside the layer. Shape or hatch carries
the meaning as well as colour, so that a grey print and a colour-blind reader lose nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from xml.etree import ElementTree as xml

from ..schema.vocabulary import AUDIT_RESULT

# Red, green, blue, opacity. The colours of geozone/screens/web/signs.js and page.css.
INK = "18,26,58,255"
PAPER = "255,255,255,255"
LAMP = "255,181,46,255"
LAMP_RIM = "95,59,0,255"
CLOCK = "122,47,143,255"
DRIFT = "77,90,148,255"
DUSK = "47,103,156,255"
OUTLINE = "141,135,121,255"
AREA_TEXT = "88,81,64,255"

# verdict -> shape, fill, rim, width of the rim [mm], size [mm]. The larger and the more angular, the more it needs a look.
VERDICT_MARKS = {
    "within": ("circle", LAMP, LAMP_RIM, "0.3", "2.2"),
    "beyond": ("diamond", INK, PAPER, "0.2", "3.8"),
    "other clock": ("square", PAPER, CLOCK, "0.6", "2.5"),
}
_VERDICT_LABELS = {"within": "within tolerance", "beyond": "beyond tolerance", "other clock": "keeps another clock"}

# Groups: fill and outline, the colours of geozone/screens/web/groups.js.
GROUP_HUES = (("34,65,120", "34,65,120"), ("222,176,15", "122,92,0"), ("207,36,15", "165,26,8"), ("205,238,148", "79,112,18"),
              ("115,115,253", "65,65,196"), ("108,218,247", "11,107,134"), ("240,120,145", "165,44,74"),
              ("158,39,57", "124,26,42"))

_HATCHES = ("b_diagonal", "f_diagonal", "horizontal", "vertical", "cross", "diagonal_x")


def hexadecimal(colour: str) -> str:
    """A colour of this module, red, green, blue and perhaps opacity, as other programs write it.

    Examples
    --------
    >>> hexadecimal("255,181,46,255")
    '#ffb52e'
    """
    return "#" + "".join(f"{int(part):02x}" for part in colour.split(",")[:3])


def site_look() -> str:
    """Sites by result: circle, diamond, square."""
    marks = [_mark(str(i), *VERDICT_MARKS[verdict]) for i, verdict in enumerate(VERDICT_MARKS)]
    cases = [(verdict, _VERDICT_LABELS[verdict]) for verdict in VERDICT_MARKS]
    return _document("point", _by_value("result", cases, marks))


# audit result -> the same; the triangle is for what may be either, the cross for what nothing explains.
RESULT_MARKS = {
    "within": ("circle", LAMP, LAMP_RIM, "0.3", "2.2"),
    "beyond": ("diamond", INK, PAPER, "0.2", "3.8"),
    "open": ("triangle", LAMP, LAMP_RIM, "0.4", "3.2"),
    "not known": ("cross2", PAPER, INK, "0.5", "2.4"),
}


def audit_look() -> str:
    """Sites of an audit by result, each its own shape."""
    marks = [_mark(str(i), *mark) for i, mark in enumerate(RESULT_MARKS.values())]
    return _document("point", _by_value("result", [(term.code, term.words) for term in AUDIT_RESULT.terms], marks))


def area_look() -> str:
    """Areas as a quiet outline with their names."""
    fill = _symbol("fill", "0", [("SimpleFill", {"style": "no", "outline_color": OUTLINE, "outline_style": "solid",
                                                 "outline_width": "0.5", "outline_width_unit": "MM"})])
    return _document("polygon", _single(fill), _labels("area", "polygon", size="10", color=AREA_TEXT))


def piece_look(clock_rules: Iterable[str]) -> str:
    """Pieces of areas, a hatch a clock rule."""
    texts = sorted(set(clock_rules))
    fills = [_symbol("fill", str(i), [("SimpleFill", {"style": _HATCHES[i % len(_HATCHES)], "color": OUTLINE,
                                                      "outline_color": INK, "outline_style": "dash",
                                                      "outline_width": "0.3", "outline_width_unit": "MM"})])
             for i in range(len(texts))]
    return _document("polygon", _by_value("clock_rule_text", [(text, text) for text in texts], fills))


def group_look(groups: Iterable[str], hues: Sequence[tuple[int, int]]) -> str:
    """Groups in the hues of the map page, those that share a hue hatched, and their letters.

    `hues`: hue and cycle of each group, as `hues_apart` gives them.
    """
    names = list(groups)
    fills = []
    for i, (hue, cycle) in enumerate(hues):
        fill, ink = GROUP_HUES[hue]
        style, color = ("solid", f"{fill},92") if cycle == 0 else (_HATCHES[(cycle - 1) % len(_HATCHES)], f"{ink},255")
        fills.append(_symbol("fill", str(i), [("SimpleFill", {
            "style": style, "color": color, "outline_color": f"{ink},255", "outline_style": "solid", "outline_width": "0.6",
            "outline_width_unit": "MM"})]))
    return _document("polygon", _by_value("group", [(name, f"group {name}") for name in names], fills),
                     _labels("group", "polygon", size="14", color=INK))


def zone_look(zones: Iterable[str], hues: Sequence[tuple[int, int]]) -> str:
    """Zones in the same hues as groups, neighbours apart, with their names; a double rim, because their borders count."""
    names = list(zones)
    fills = []
    for i, (hue, cycle) in enumerate(hues):
        fill, ink = GROUP_HUES[hue]
        style, color = ("solid", f"{fill},70") if cycle == 0 else (_HATCHES[(cycle - 1) % len(_HATCHES)], f"{ink},255")
        fills.append(_symbol("fill", str(i), [("SimpleFill", {"style": style, "color": color, "outline_color": f"{ink},255", "outline_style": "dash",
                                                              "outline_width": "0.9", "outline_width_unit": "MM"})]))
    return _document("polygon", _by_value("zone", [(name, f"zone {name}") for name in names], fills), _labels("zone", "polygon", size="14", color=INK))


def drift_line_look() -> str:
    """The tolerance line heavy, other lines of equal minutes off light, lines of equal dusk dotted; each with its label."""
    lines = [_line("0", INK, "1.1", "solid"), _line("1", DRIFT, "0.35", "solid"), _line("2", DUSK, "0.5", "dot")]
    cases = [("tolerance", "tolerance line"), ("drift", "equal minutes off"), ("dusk", "equal dusk")]
    return _document("line", _by_value("kind", cases, lines), _labels("label", "line", size="9", color=INK))


def lattice_look() -> str:
    """Grid points by their worst minutes as a share of the tolerance: light to dark, discs within and squares beyond it."""
    steps: Sequence[tuple[str, str, str, str, str]] = (
        ("0", "0.5", "at most half the tolerance", "circle", "255,236,196,255"),
        ("0.5", "1", "within tolerance", "circle", "246,165,82,255"),
        ("1", "2", "up to twice the tolerance", "square", "125,70,132,255"),
        ("2", "1000000", "more than twice the tolerance", "square", INK))
    marks = [_mark(str(i), shape, fill, INK, "0.1", "1.5") for i, (*_, shape, fill) in enumerate(steps)]
    renderer = xml.Element("renderer-v2", type="graduatedSymbol", attr="tolerance_share",
                           graduatedMethod="GraduatedColor", symbollevels="0", enableorderby="0", forceraster="0")
    ranges = xml.SubElement(renderer, "ranges")
    for i, (lower, upper, label, *_) in enumerate(steps):
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


def _mark(name: str, shape: str, fill: str, rim: str, rim_mm: str, size_mm: str) -> xml.Element:
    return _symbol("marker", name, [("SimpleMarker", {
        "name": shape, "color": fill, "size": size_mm, "size_unit": "MM", "outline_color": rim, "outline_style": "solid",
        "outline_width": rim_mm, "outline_width_unit": "MM"})])


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
