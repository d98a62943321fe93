"""What the typesetter cannot write into a PDF: layers that a reader can switch, and the ground under the map frame.

References
----------
ISO 32000-2, 8.11 (optional content) and 12.10 (geospatial features); ISO 19005-2 6.9 allows the first with a named default.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass

import pikepdf
from pikepdf import Array, Dictionary, Name, String

from .mapview import MapView

_PT_PER_MM = 72 / 25.4


@dataclass(frozen=True)
class MapPage:
    """A page with a map frame.

    Attributes
    ----------
    page : int
        From 0.
    view : MapView
    layers : sequence of str
        Names of the pictures on the page, in the order in which they are drawn; they come before any other picture.
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
            _switchable(document, page, [groups[name] for name in one.layers])
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


def _switchable(document: pikepdf.Pdf, page: pikepdf.Page, groups: list) -> None:
    """Put the first drawn pictures of a page into optional content groups, one each."""
    names = Dictionary()
    rest = list(enumerate(groups))
    out = []
    for operands, operator in pikepdf.parse_content_stream(page):
        if str(operator) == "Do" and rest:
            k, group = rest.pop(0)
            names[f"/Layer{k}"] = group
            out += [([Name.OC, Name(f"/Layer{k}")], pikepdf.Operator("BDC")), (operands, operator), ([], pikepdf.Operator("EMC"))]
        else:
            out.append((operands, operator))
    page.obj.Contents = document.make_stream(pikepdf.unparse_content_stream(out))
    page.resources.Properties = names


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
