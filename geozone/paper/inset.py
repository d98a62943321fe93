"""The small map in the corner that says where in the country the sheet lies."""

from __future__ import annotations

import io

import numpy as np
import shapely
from matplotlib import rc_context
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure

from .maplayers import INK, OUTLINE, unrolled, world
from .mapview import MapView
from .sizes import Box
from .words import Words

_WIDTH_MM, _HEIGHT_MM = 34.0, 26.0
#: The inset shows at least so much ground [degree of latitude], and so many times the sheet's.
_LEAST_DEG, _TIMES = 16.0, 6.0


def inset_box(view: MapView, ground: list[np.ndarray]) -> Box | None:
    """The corner of the map frame where an inset covers none of the ground that the sheet is about; None: there is no such corner.

    Parameters
    ----------
    view : MapView
    ground : list of (n, 2) ndarray
        Sites, and corners and edges of outlines [mm on the sheet].
    """
    box = view.box
    points = shapely.multipoints(np.concatenate(ground)) if ground else shapely.Point()
    shapely.prepare(points)
    for x, y in ((box.right - _WIDTH_MM, box.y), (box.x, box.y), (box.x, box.bottom - _HEIGHT_MM),
                 (box.right - _WIDTH_MM, box.bottom - _HEIGHT_MM)):
        if not shapely.intersects(points, shapely.box(x - 1, y - 1, x + _WIDTH_MM + 1, y + _HEIGHT_MM + 1)):
            return Box(x, y, _WIDTH_MM, _HEIGHT_MM)
    return None


def inset_picture(view: MapView, corner: Box, words: Words) -> dict:
    """The inset as data for the template: place, size and picture."""
    west, south, east, north = view.bounds_deg(0)
    lon, lat = (west + east) / 2, (south + north) / 2
    height = min(max(_LEAST_DEG, _TIMES * (north - south)), 150.0)
    shrink = max(np.cos(np.radians(lat)), 0.2)
    width = height * _WIDTH_MM / _HEIGHT_MM / shrink
    window = (lon - width / 2, max(lat - height / 2, -89.9), lon + width / 2, min(lat + height / 2, 89.9))
    lines = []
    for shape in unrolled(world().geometry, lon):
        cut = shapely.clip_by_rect(shape, *window)
        lines += [shapely.get_coordinates(ring) for part in shapely.get_parts(cut) if part.geom_type == "Polygon"
                  for ring in (part.exterior, *part.interiors)]
    with rc_context({"svg.hashsalt": "geozone"}):
        figure = Figure(figsize=(_WIDTH_MM / 25.4, _HEIGHT_MM / 25.4))
        axes = figure.add_axes((0, 0, 1, 1))
        axes.set_xlim(window[0], window[2])
        axes.set_ylim(window[1], window[3])
        axes.set_axis_off()
        axes.add_collection(LineCollection(lines, colors=OUTLINE, linewidths=0.4))
        axes.plot([west, east, east, west, west], [south, south, north, north, south], color=INK, linewidth=1.2)
        target = io.BytesIO()
        figure.savefig(target, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    return {"x": corner.x, "y": corner.y, "width": corner.width, "height": corner.height, "svg": target.getvalue().decode(),
            "alt": words("inset")}
