"""The map frame as layers of vector graphics: lines, fills and signs, without a letter.

Each layer is one SVG picture of the frame's exact size, so that a reader of the PDF can switch it. Shape, hatch and line pattern
carry the meaning as well as colour; there is no transparency. Text is set with the rest of the sheet.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import shapely
from matplotlib import rc_context
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.path import Path

from ..files import looks
from ..grouping.grouphues import hues_apart
from ..places.antimeridian import span_deg
from .mapview import MapView
from .signs import signs_svg
from .zonewords import keyed_ground

if TYPE_CHECKING:
    from ..answers import Answers

_PT_PER_MM = 72 / 25.4
INK, DRIFT, DUSK = map(looks.hexadecimal, (looks.INK, looks.DRIFT, looks.DUSK))
#: Darker than on the screen: a printed hair line in the screen's grey is lost.
OUTLINE, QUIET = "#6e6856", "#b9b3a3"

#: Line patterns of kinds of lines: colour, width [mm], dashes [mm].
LINES = {"tolerance": (INK, 0.7, ()), "drift": (DRIFT, 0.3, ()), "dusk": (DUSK, 0.3, (0.4, 0.9))}
BORDER = ("#a5342a", 0.6, (3.0, 0.8, 0.5, 0.8))
#: Stands for any rim in a swatch that is made once for all colours.
_ANY_RIM = "#010203"
_HATCHES = ("//", "\\\\", "--", "||", "xx", "++", "..", "oo")


@dataclass(frozen=True)
class MapLayer:
    """One layer of a map frame.

    Attributes
    ----------
    name : str
        As a reader of the PDF lists it.
    svg : bytes
    """

    name: str
    svg: bytes


def map_layers(answers: "Answers", view: MapView) -> list[MapLayer]:
    """Layers of the map frame, the lowest first: graticule, background, outlines, groups, lines, borders, sites."""
    drawn = [("Graticule", _graticule), ("Background", _background), ("Outlines", _outlines), ("Groups", _groups),
             ("Lines of equal minutes", _lines), ("Legal-time borders", _borders)]
    return [*(MapLayer(name, _svg(view, lambda axes, draw=draw: draw(axes, answers, view))) for name, draw in drawn), MapLayer("Sites", _sites(answers, view))]


def graticule_step_deg(view: MapView) -> float:
    """Spacing of the graticule [degree]: some four to eight lines across the frame."""
    west, south, east, north = view.bounds_deg(0)
    wide = max(east - west, north - south)
    return next((step for step in (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 30) if wide / step <= 8), 45.0)


def graticule_lines(view: MapView) -> list[tuple[str, float, np.ndarray]]:
    """Meridians and parallels in the frame: axis ("lon" or "lat"), value [degree], points on the sheet (n, 2) [mm]."""
    step = graticule_step_deg(view)
    west, south, east, north = view.bounds_deg(0.1)
    found = []
    for axis, low, high in (("lon", west, east), ("lat", south, north)):
        for k in range(int(np.ceil(low / step)), int(np.floor(high / step)) + 1):
            value = round(k * step, 6)
            along = np.linspace(south, north, 60) if axis == "lon" else np.linspace(west, east, 60)
            x, y = view.on_sheet(np.full(60, value), along) if axis == "lon" else view.on_sheet(along, np.full(60, value))
            points = np.column_stack([x, y])
            found.append((axis, value, points[np.isfinite(points).all(axis=1)]))
    return found


def _svg(view: MapView, draw) -> bytes:
    """One picture of the frame's size; axes in mm of the sheet, y downwards."""
    box = view.box
    # Path simplification would drop the corners of borders; a salt of our own gives the same ids for the same drawing.
    with rc_context({"svg.hashsalt": "geozone", "path.simplify": False, "svg.fonttype": "none", "hatch.linewidth": 0.35}):
        figure = Figure(figsize=(box.width / 25.4, box.height / 25.4))
        axes = figure.add_axes((0, 0, 1, 1))
        axes.set_xlim(box.x, box.right)
        axes.set_ylim(box.bottom, box.y)
        axes.set_axis_off()
        draw(axes)
        target = io.BytesIO()
        figure.savefig(target, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    return target.getvalue()


def _stroke(colour: str, width_mm: float, dashes_mm: tuple) -> dict:
    width = width_mm * _PT_PER_MM
    # Dashes are counted in line widths.
    return {"colors": colour, "linewidths": width,
            "linestyles": (0, tuple(length / width_mm for length in dashes_mm)) if dashes_mm else "solid"}


def parts_on_sheet(shapes, view: MapView, kind: str) -> list[np.ndarray]:
    """Rings or lines of geographic shapes as points on the sheet, cut to a little more than the frame."""
    west, south, east, north = view.bounds_deg(0.3)
    out: list[np.ndarray] = []
    for shape in unrolled(shapes, (west + east) / 2):
        clipped = shapely.clip_by_rect(shape, west, south, east, north)
        parts = shapely.get_parts(clipped)
        for part in parts:
            lines = [part.exterior, *part.interiors] if kind == "ring" and part.geom_type == "Polygon" else \
                [part] if kind == "line" and part.geom_type == "LineString" else []
            for line in lines:
                lon, lat = shapely.get_coordinates(line).T
                points = np.column_stack(view.on_sheet(lon, lat))
                if len(points) > 1 and np.isfinite(points).all():
                    out.append(points)
    return out


def unrolled(shapes, middle_deg: float):
    """Shapes on the map's own turn of the globe: over 180 degrees rather than back at -180."""
    for shape in shapes:
        if shape is None or shape.is_empty:
            continue
        for turn in (-360.0, 0.0, 360.0):
            moved = shapely.transform(shape, lambda xy, turn=turn: xy + [turn, 0.0]) if turn else shape
            west, _, east, _ = moved.bounds
            if west <= middle_deg + 180 and east >= middle_deg - 180 and (turn == 0.0 or abs(middle_deg) > 90):
                yield moved


def _polygon_patch(points: list[np.ndarray], **style) -> PathPatch:
    codes, vertices = [], []
    for ring in points:
        codes += [Path.MOVETO, *[Path.LINETO] * (len(ring) - 2), Path.CLOSEPOLY]
        vertices.append(ring)
    return PathPatch(Path(np.concatenate(vertices), codes), **style)


def _graticule(axes, answers, view: MapView) -> None:
    axes.add_collection(LineCollection([points for _, _, points in graticule_lines(view)], **_stroke("#c9c4b6", 0.13, ())))


def _background(axes, answers, view: MapView) -> None:
    if answers.backdrop is not None:
        lines = parts_on_sheet(answers.backdrop.geometry, view, "line") + parts_on_sheet(answers.backdrop.geometry, view, "ring")
        axes.add_collection(LineCollection(lines, **_stroke(QUIET, 0.35, ())))
    if view.scale >= 1_000_000:  # the packaged outlines are drawn for 1:50 million and mislead on larger scales
        axes.add_collection(LineCollection(parts_on_sheet(world().geometry, view, "ring"), **_stroke(QUIET, 0.25, ())))


def _outlines(axes, answers, view: MapView) -> None:
    axes.add_collection(LineCollection(parts_on_sheet(answers.areas.geometry, view, "ring"), **_stroke(OUTLINE, 0.45, ())))


def group_looks(answers: "Answers") -> dict[str, tuple[str, str]]:
    """Rim and hatch of each group, or zone, by its name."""
    hulls = keyed_ground(answers)[1]
    return {str(group): (looks.hexadecimal(looks.GROUP_HUES[hue][1]), _HATCHES[(hue + cycle) % len(_HATCHES)])
            for (hue, cycle), group in zip(hues_apart(list(hulls.geometry)), hulls["group"], strict=True)}


def group_swatches(answers: "Answers") -> dict[str, str]:
    """A piece of each group's hatching, 6 by 3 mm, as SVG; a group without an outline has an empty one."""
    looks = group_looks(answers)
    return {str(group): _swatch(looks.get(str(group))) for group in keyed_ground(answers)[0]["group"]}


def _swatch(look: tuple[str, str] | None) -> str:
    return _hatched(None) if look is None else _hatched(look[1]).replace(_ANY_RIM, look[0])


@lru_cache(maxsize=16)
def _hatched(hatch: str | None) -> str:
    """A swatch with a rim of a colour that stands for any: the plotting library takes 50 ms for each."""
    with rc_context({"svg.hashsalt": "geozone", "hatch.linewidth": 0.35}):
        figure = Figure(figsize=(6 / 25.4, 3 / 25.4))
        axes = figure.add_axes((0, 0, 1, 1))
        axes.set_axis_off()
        if hatch is not None:
            axes.add_patch(Rectangle((0.03, 0.06), 0.94, 0.88, facecolor="none", edgecolor=_ANY_RIM, linewidth=0.5 * _PT_PER_MM, hatch=hatch))
        target = io.BytesIO()
        figure.savefig(target, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    return target.getvalue().decode()


def _groups(axes, answers, view: MapView) -> None:
    ground = keyed_ground(answers)
    if ground is None:
        return
    looks = group_looks(answers)
    for row in ground[1].itertuples():
        rings = parts_on_sheet([row.geometry], view, "ring")
        if rings:
            rim, hatch = looks[str(row.group)]
            axes.add_patch(_polygon_patch(rings, facecolor="none", edgecolor=rim, linewidth=0.5 * _PT_PER_MM, hatch=hatch))


def _lines(axes, answers, view: MapView) -> None:
    for kind, look in LINES.items():
        mine = answers.drift_lines[answers.drift_lines["kind"] == kind]
        axes.add_collection(LineCollection(parts_on_sheet(mine.geometry, view, "line"), **_stroke(*look)))


def _borders(axes, answers, view: MapView) -> None:
    mine = answers.boundaries[~answers.boundaries["same_clock"].astype(bool)]
    axes.add_collection(LineCollection(parts_on_sheet(mine.geometry, view, "line"), **_stroke(*BORDER)))


def mark_size_mm(sites: int) -> float:
    """How large signs are drawn, as a part of their full size: many sites, small signs."""
    return float(np.clip(1.0 - 0.22 * (np.log10(max(sites, 1)) - 2.0), 0.4, 1.0))


def _sites(answers: "Answers", view: MapView) -> bytes:
    x, y = view.on_sheet(answers.sites["lon_deg"].to_numpy(float), answers.sites["lat_deg"].to_numpy(float))
    return signs_svg(view.box, x, y, answers.sites["result"].to_numpy(str), mark_size_mm(len(answers.sites)))


@lru_cache(maxsize=1)
def world() -> gpd.GeoDataFrame:
    """Outlines of countries for orientation, 1:50 million (Natural Earth, public domain)."""
    from importlib.resources import as_file, files

    with as_file(files("geozone") / "screens" / "vendor" / "world" / "countries-50m.json") as path:
        return gpd.read_file(path, engine="pyogrio", layer="countries").set_crs("EPSG:4326", allow_override=True)


def ground_bounds(answers: "Answers") -> tuple[float, float, float, float]:
    """Bounds of what the sheet must show [degree]: outlines and sites; east runs on over 180."""
    boxes = [frame.total_bounds for frame in (answers.areas, answers.sites) if len(frame)]
    west, east = span_deg(answers.sites["lon_deg"], answers.areas.geometry)
    south, north = min(box[1] for box in boxes), max(box[3] for box in boxes)
    return float(west), float(south), float(east if east >= west else east + 360.0), float(north)


def ground_points(answers: "Answers", view: MapView) -> list[np.ndarray]:
    """What a sheet is about as points on it (n, 2) [mm], no two of an outline farther apart than 3 mm: sites, outlines, borders."""
    x, y = view.on_sheet(answers.sites["lon_deg"].to_numpy(float), answers.sites["lat_deg"].to_numpy(float))
    other_clocks = answers.boundaries[~answers.boundaries["same_clock"].astype(bool)]
    lines = parts_on_sheet(answers.areas.geometry, view, "ring") + parts_on_sheet(other_clocks.geometry, view, "line")
    return [np.column_stack([x, y]), *(shapely.get_coordinates(shapely.segmentize(shapely.LineString(points), 3.0)) for points in lines)]
