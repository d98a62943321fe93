"""Which names a map frame wants, in the order of what matters most: group letters, borders, districts, lines, sites."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from .labels import Label, Wanted, placed
from .maplayers import graticule_lines, mark_size_mm, parts_on_sheet
from .mapview import MapView
from .phrases import area_words, line_words
from .sizes import Box
from .words import Words
from .zonewords import keyed_ground

if TYPE_CHECKING:
    from ..answers import Answers

#: Up to so many sites have their names on the map; all of them stand in the index.
SITES_NAMED = 60
_SIZES_MM = {"group": 4.4, "area": 2.7, "line": 2.0, "border": 2.1, "site": 1.8}
_PIECES_LETTERED = 6


def map_labels(answers: "Answers", view: MapView, words: Words, inset: Box | None = None) -> tuple[list[Label], list[Wanted]]:
    """Names with their places, and those without room."""
    x, y = view.on_sheet(answers.sites["lon_deg"].to_numpy(float), answers.sites["lat_deg"].to_numpy(float))
    signs = np.column_stack([x, y])
    radius = 1.1 * mark_size_mm(len(signs))
    wanted = [*_groups(answers, view), *_borders(answers, view), *_areas(answers, view, words), *_lines(answers, view, words)]
    if len(signs) <= SITES_NAMED:
        wanted += [Wanted(str(site), "site", [tuple(at)], _SIZES_MM["site"], beside=True)
                   for site, at in zip(answers.sites["site_id"], signs, strict=True)]
    inner = Box(view.box.x + 0.5, view.box.y + 0.5, view.box.width - 1, view.box.height - 1)
    return placed([one for one in wanted if one.places], inner, signs, radius, [inset] if inset else [])


def graticule_labels(view: MapView) -> list[tuple[str, str, float]]:
    """Labels of meridians and parallels where they meet the frame: text, side ("bottom", "top", "left", "right"), place [mm]."""
    box, found = view.box, []
    for axis, value, points in graticule_lines(view):
        line = shapely.LineString(points)
        text = _degrees(abs((value + 180) % 360 - 180) if axis == "lon" else abs(value),
                        ("E" if (value + 180) % 360 - 180 >= 0 else "W") if axis == "lon" else ("N" if value >= 0 else "S"))
        sides = (("bottom", box.bottom), ("top", box.y)) if axis == "lon" else (("left", box.x), ("right", box.right))
        for side, edge in sides:
            rim = shapely.LineString([(box.x, edge), (box.right, edge)] if axis == "lon" else [(edge, box.y), (edge, box.bottom)])
            meets = shapely.intersection(line, rim)
            if meets.geom_type == "Point":
                found.append((text, side, float(meets.x if axis == "lon" else meets.y)))
    return found


def _degrees(value: float, side: str) -> str:
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return f"{text}° {side}" if value else "0°"


def _largest_first(shapes, view: MapView) -> list[np.ndarray]:
    rings = parts_on_sheet(shapes, view, "ring")
    inside = []
    frame = shapely.box(view.box.x, view.box.y, view.box.right, view.box.bottom)
    for ring in rings:
        if len(ring) > 3:
            shape = shapely.intersection(shapely.make_valid(shapely.Polygon(ring)), frame)
            inside += [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon" and part.area > 0]
    return sorted(inside, key=lambda part: -part.area)


def _middles(part, spacing_mm: float = 6.0) -> list[tuple[float, float]]:
    """Places inside a piece of ground: its innermost point, then a grid of others, the nearest to it first."""
    innermost = shapely.get_coordinates(shapely.maximum_inscribed_circle(part, tolerance=0.5))[0]
    west, south, east, north = part.bounds
    grid = np.array([(x, y) for x in np.arange(west + spacing_mm / 2, east, spacing_mm)
                     for y in np.arange(south + spacing_mm / 2, north, spacing_mm)]).reshape(-1, 2)
    inside = grid[shapely.contains_xy(part, grid)] if len(grid) else grid
    order = np.argsort(np.hypot(*(inside - innermost).T), kind="stable")
    return [tuple(innermost), *map(tuple, inside[order][:60])]


def _groups(answers, view: MapView) -> list[Wanted]:
    ground = keyed_ground(answers)
    if ground is None:
        return []
    wanted = []
    for row in ground[1].itertuples():
        pieces = _largest_first([row.geometry], view)[:_PIECES_LETTERED]
        places = [_middles(piece) for piece in pieces]
        wanted += [Wanted(str(row.group), "group", at, _SIZES_MM["group"], bold=True) for at in places[:1]]
    return wanted


def _areas(answers, view: MapView, words: Words) -> list[Wanted]:
    wanted = []
    for row in answers.areas.itertuples():
        pieces = _largest_first([row.geometry], view)
        if pieces and str(row.area):
            wanted.append(Wanted(area_words(str(row.area), answers.outlined, words), "area", _middles(pieces[0]), _SIZES_MM["area"]))
    return wanted


def _lines(answers, view: MapView, words: Words) -> list[Wanted]:
    wanted = []
    for row in answers.drift_lines.itertuples():
        lines = sorted(parts_on_sheet([row.geometry], view, "line"), key=lambda points: -shapely.LineString(points).length)
        places = [tuple(shapely.get_coordinates(shapely.LineString(points).interpolate(part, normalized=True))[0])
                  for points in lines[:3] for part in (0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9)]
        if places:
            wanted.append(Wanted(line_words(row, answers.tolerance, words), "line", places, _SIZES_MM["line"], bold=row.kind == "tolerance"))
    return wanted


def _borders(answers, view: MapView) -> list[Wanted]:
    """Both clocks of a legal-time border, each on its own side."""
    texts = {str(row.legal_zone): str(row.clock_rule_text) for row in answers.area_pieces.itertuples()}
    for rule in answers.clock_rules.itertuples():
        texts.update({str(zone): str(rule.text) for zone in rule.legal_zones})
    zones = {str(row.legal_zone): row.geometry for row in answers.zones.itertuples()}
    mine = answers.boundaries[~answers.boundaries["same_clock"].astype(bool)]
    lines = sorted((( points, row) for row in mine.itertuples() for points in parts_on_sheet([row.geometry], view, "line")),
                   key=lambda one: -shapely.LineString(one[0]).length)
    frame = shapely.box(view.box.x, view.box.y, view.box.right, view.box.bottom)
    wanted, seen = [], set()
    for points, row in lines:
        pair = frozenset((str(row.zone_a), str(row.zone_b)))
        line = shapely.intersection(shapely.LineString(points), frame)
        if pair in seen or line.is_empty or line.length < 15 or line.geom_type not in ("LineString", "MultiLineString"):
            continue
        seen.add(pair)
        line = max(shapely.get_parts(line), key=shapely.length)
        for zone in sorted(pair):
            # Zones without sites may have no clock in words here; the name says which law it is.
            text = ", ".join(filter(None, (zone, texts.get(zone, "").split(",")[0])))
            wanted.append(Wanted(text, "border", _beside(line, zones.get(zone), view, len(text)), _SIZES_MM["border"]))
    return wanted


def _beside(line, zone, view: MapView, letters: int) -> list[tuple[float, float]]:
    """Places on one zone's side of a border [mm], along it."""
    found = []
    away = 2.0 + letters * 0.62
    for part in (0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9):
        at, ahead = (shapely.get_coordinates(line.interpolate(min(part + step, 1.0), normalized=True))[0] for step in (0.0, 0.02))
        along = ahead - at
        length = np.hypot(*along)
        if length == 0:
            continue
        across = np.array([-along[1], along[0]]) / length
        # Across a meridian half a text's width, across a parallel half its height.
        reach = abs(across[0]) * away + abs(across[1]) * 3.0
        for side in (1, -1):
            place = at + side * across * reach
            lon, lat = view.ground(*place)
            if zone is None or shapely.contains_xy(zone, float(lon), float(lat)):
                found.append(tuple(place))
    return found
