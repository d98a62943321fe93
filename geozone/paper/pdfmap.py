"""What the typesetter cannot write into a PDF: layers that a reader can switch, and the ground under the map frame.

References
----------
ISO 32000-2, 8.11 (optional content) and 12.10 (geospatial features); ISO 19005-2 6.9 allows the first with a named default.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass

import pikepdf
from pikepdf import Array, Dictionary, Name, String

from .mapview import MapView

_PT_PER_MM = 72 / 25.4
# Texts and names, which are passed over, or an operator of marked content.
_OPERATOR = re.compile(rb"\((?:[^\\()]|\\.|\((?:[^\\()]|\\.)*\))*\)|/[^\s()<>\[\]{}/%]*|\b(BDC|BMC|EMC)\b", re.DOTALL)
#: Behind a layer's name: the empty picture at the end of a layer of text.
END = " end"


@dataclass(frozen=True)
class MapPage:
    """A page with a map frame.

    Attributes
    ----------
    page : int
        From 0.
    view : MapView
    layers : sequence of str
        Names of the layers, the lowest first.
    """

    page: int
    view: MapView
    layers: Sequence[str]


def finish(pdf: bytes, maps: Sequence[MapPage], *, title: str, subject: str) -> bytes:
    """Add layers and viewports to a typeset document; the same input gives the same bytes."""
    with pikepdf.open(io.BytesIO(pdf)) as document:
        groups: dict[str, pikepdf.Object] = {}
        for one in maps:
            page = document.pages[one.page]
            for name in one.layers:
                if name not in groups:
                    groups[name] = document.make_indirect(Dictionary(Type=Name.OCG, Name=String(name)))
            _switchable(document, page, {name: groups[name] for name in one.layers})
            page.obj.VP = Array([document.make_indirect(_viewport(page, one.view))])
        if groups:
            every = list(groups.values())
            document.Root.OCProperties = Dictionary(OCGs=Array(every), D=Dictionary(Name=String("Print"), Order=Array(every), ON=Array(every)))
        with document.open_metadata(set_pikepdf_as_editor=False, update_docinfo=False) as meta:
            meta["dc:description"] = subject
            meta["dc:title"] = title
        target = io.BytesIO()
        document.save(target, deterministic_id=True, linearize=False)
    return target.getvalue()


def _switchable(document: pikepdf.Pdf, page: pikepdf.Page, groups: dict[str, pikepdf.Object]) -> None:
    """Put what belongs to each layer into its optional content group.

    The typesetter marks each picture by its alternative text. A layer is the picture of its name; one of text lies between the
    empty pictures of its name and of its name with `END`.
    """
    # Only where marked content begins and ends is taken out of the page: 50,000 signs are not taken apart and built anew.
    marks = [(str(one.operator), _alternative(one.operands)) for one in pikepdf.parse_content_stream(page, "BDC BMC EMC")]
    content = page.obj.Contents.read_bytes()
    spans = [found.span(1) for found in _OPERATOR.finditer(content) if found[1]]
    if len(spans) != len(marks):
        raise ValueError("operators of marked content cannot be told from text")
    alternatives: dict[str, int] = {}
    for i, (_, name) in enumerate(marks):
        alternatives.setdefault(name, i)
    names, added = Dictionary(), []
    for number, (name, group) in enumerate(groups.items()):
        if name not in alternatives:
            continue
        place = f"/Layer{number}"
        names[place] = group
        begin, last = alternatives[name], alternatives.get(name + END)
        # Just inside the marks of a picture; of a text, from behind the first empty picture to behind the last.
        opens = spans[begin][1] if last is None else spans[_closing(marks, begin)][1]
        closes = spans[_closing(marks, begin)][0] if last is None else spans[_closing(marks, last)][1]
        added += [(opens, f" /OC {place} BDC\n".encode()), (closes, b" EMC\n")]
    parts, done = [], 0
    for place, text in sorted(added, key=lambda one: one[0]):
        parts += [content[done:place], text]
        done = place
    page.obj.Contents = document.make_stream(b"".join([*parts, content[done:]]))
    page.resources.Properties = names


def _alternative(operands) -> str:
    properties = operands[1] if len(operands) > 1 else None
    return str(properties["/Alt"]) if isinstance(properties, Dictionary) and "/Alt" in properties else ""


def _closing(marks: list[tuple[str, str]], start: int) -> int:
    """Place of the end of the marked content that begins at `start`."""
    depth = 0
    for i in range(start, len(marks)):
        depth += 1 if marks[i][0] != "EMC" else -1
        if depth == 0:
            return i
    raise ValueError("marked content is not closed")


def _viewport(page: pikepdf.Page, view: MapView) -> Dictionary:
    box = view.box
    height_pt = float(page.mediabox[3])
    x0, x1 = box.x * _PT_PER_MM, box.right * _PT_PER_MM
    y0, y1 = height_pt - box.bottom * _PT_PER_MM, height_pt - box.y * _PT_PER_MM
    corners = [value for lon, lat in view.corners_deg() for value in (lat, lon)]
    unit = [0, 0, 1, 0, 1, 1, 0, 1]
    projection = view.projection
    system = Dictionary(Type=Name.PROJCS, WKT=String(_wkt(projection.crs)))
    if projection.epsg:
        system.EPSG = projection.epsg
    return Dictionary(
        Type=Name.Viewport, Name=String("Map"), BBox=Array([_number(v) for v in (x0, y0, x1, y1)]),
        Measure=Dictionary(Type=Name.Measure, Subtype=Name.GEO, Bounds=Array(unit), LPTS=Array(unit),
                           GPTS=Array([_number(v, 9) for v in corners]), GCS=system,
                           DCS=Dictionary(Type=Name.GEOGCS, EPSG=4326)))


def _wkt(crs) -> str:
    try:
        return crs.to_wkt("WKT1_ESRI")
    except Exception:  # a system that this form cannot say; pyproj raises its own errors here
        return crs.to_wkt("WKT1_GDAL")


def _number(value: float, places: int = 4):
    from decimal import Decimal

    return Decimal(f"{value:.{places}f}")
