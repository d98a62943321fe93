"""The small map of a list: positions by clock, and outlines, as a picture of its own."""

from __future__ import annotations

import math

#: A colour and a sign for each clock, so that neither alone tells them apart: circle, square, triangle, cross.
_COLOURS = ("#1f4e9c", "#b4530a", "#6a2d8a", "#1c6b4f")
_SIGNS = ("M{x0} {y}a2 2 0 1 0 4 0a2 2 0 1 0-4 0z", "M{x0} {y0}h4v4h-4z", "M{x} {y0}l2.4 4h-4.8z", "M{x0} {y0}l4 4m0-4l-4 4")
_WIDTH, _EDGE = 640.0, 14.0


def picture(drawn: dict) -> str:
    """Points and outlines in degrees as SVG; east is right, north is up, and a kilometre is as long both ways in the middle."""
    points, lines = drawn["points"], drawn["lines"]
    lon = [p[0] for p in points] + [x for line in lines for x, _ in line]
    lat = [p[1] for p in points] + [y for line in lines for _, y in line]
    west, east, south, north = min(lon), max(lon), min(lat), max(lat)
    across = math.cos(math.radians((south + north) / 2)) or 1e-6
    wide, high = max((east - west) * across, 1e-4), max(north - south, 1e-4)
    scale = min((_WIDTH - 2 * _EDGE) / wide, (_WIDTH - 2 * _EDGE) / high)
    width, height = wide * scale + 2 * _EDGE, high * scale + 2 * _EDGE

    def at(x: float, y: float) -> tuple[float, float]:
        return round(_EDGE + (x - west) * across * scale, 1), round(_EDGE + (north - y) * scale, 1)

    parts = [f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" width="{width:.0f}" height="{height:.0f}">',
             '<rect width="100%" height="100%" fill="#f4f1ea"/>']
    for line in lines:
        parts.append('<path d="M' + "L".join(f"{x} {y}" for x, y in (at(*p) for p in line)) + 'z" fill="none" stroke="#77747c" stroke-width="1.2"/>')
    seen: dict[int, dict[tuple[float, float], None]] = {}
    for x, y, rule in points:
        seen.setdefault(rule, {})[at(x, y)] = None
    for rule, spots in seen.items():
        sign = _SIGNS[rule % 4]
        path = "".join(sign.format(x=x, y=y, x0=round(x - 2, 1), y0=round(y - 2, 1)) for x, y in spots)
        colour = _COLOURS[rule % 4]
        parts.append(f'<path d="{path}" fill="{colour if rule % 4 != 3 else "none"}" stroke="{colour}" stroke-width="{1.4 if rule % 4 == 3 else 0.4}"/>')
    return "".join(parts) + "</svg>"
