"""The small map of a list: positions by clock, and outlines, as a picture of its own; and the position that a click on it means."""

from __future__ import annotations

import math
from dataclasses import dataclass

#: A colour and a sign for each clock, so that neither alone tells them apart: circle, square, triangle, cross.
_COLOURS = ("#1f4e9c", "#b4530a", "#6a2d8a", "#1c6b4f")
_SIGNS = ("M{x0} {y}a2 2 0 1 0 4 0a2 2 0 1 0-4 0z", "M{x0} {y0}h4v4h-4z", "M{x} {y0}l2.4 4h-4.8z", "M{x0} {y0}l4 4m0-4l-4 4")
_WIDTH, _EDGE = 640.0, 14.0


@dataclass(frozen=True)
class Frame:
    """How degrees lie in the picture: east is right, north is up, and a kilometre is as long both ways in the middle.

    Attributes
    ----------
    west, north : float [degree]
    across : float
        A degree of longitude in degrees of latitude.
    scale : float
        Picture units of a degree of latitude.
    width, height : float
    """

    west: float
    north: float
    across: float
    scale: float
    width: float
    height: float

    @classmethod
    def of(cls, drawn: dict) -> Frame:
        """The frame of points and outlines in degrees."""
        lon = [p[0] for p in drawn["points"]] + [x for line in drawn["lines"] for x, _ in line]
        lat = [p[1] for p in drawn["points"]] + [y for line in drawn["lines"] for _, y in line]
        west, east, south, north = min(lon), max(lon), min(lat), max(lat)
        across = math.cos(math.radians((south + north) / 2)) or 1e-6
        wide, high = max((east - west) * across, 1e-4), max(north - south, 1e-4)
        scale = min((_WIDTH - 2 * _EDGE) / wide, (_WIDTH - 2 * _EDGE) / high)
        return cls(west, north, across, scale, round(wide * scale + 2 * _EDGE), round(high * scale + 2 * _EDGE))

    def at(self, lon: float, lat: float) -> tuple[float, float]:
        """Where a position lies in the picture."""
        return round(_EDGE + (lon - self.west) * self.across * self.scale, 1), round(_EDGE + (self.north - lat) * self.scale, 1)

    def position(self, x: float, y: float) -> tuple[float, float]:
        """Latitude and longitude [degree] of a spot in the picture.

        Examples
        --------
        >>> frame = Frame.of({"points": [[10.0, 50.0, 0], [12.0, 51.0, 0]], "lines": []})
        >>> [round(value, 2) for value in frame.position(*frame.at(11.5, 50.25))]
        [50.25, 11.5]
        """
        lon = self.west + (x - _EDGE) / self.scale / self.across
        return min(90.0, max(-90.0, self.north - (y - _EDGE) / self.scale)), (lon + 180.0) % 360.0 - 180.0


def picture(drawn: dict, mark: tuple[float, float] | None = None) -> str:
    """Points and outlines in degrees as SVG; `mark` is a latitude and longitude that gets a cross."""
    frame = Frame.of(drawn)
    at = frame.at
    parts = [f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {frame.width:.0f} {frame.height:.0f}" width="{frame.width:.0f}" height="{frame.height:.0f}">',
             '<rect width="100%" height="100%" fill="#f4f1ea"/>']
    for line in drawn["lines"]:
        parts.append('<path d="M' + "L".join(f"{x} {y}" for x, y in (at(*p) for p in line)) + 'z" fill="none" stroke="#77747c" stroke-width="1.2"/>')
    seen: dict[int, dict[tuple[float, float], None]] = {}
    for x, y, rule in drawn["points"]:
        seen.setdefault(rule, {})[at(x, y)] = None
    for rule, spots in seen.items():
        sign = _SIGNS[rule % 4]
        path = "".join(sign.format(x=x, y=y, x0=round(x - 2, 1), y0=round(y - 2, 1)) for x, y in spots)
        colour = _COLOURS[rule % 4]
        parts.append(f'<path d="{path}" fill="{colour if rule % 4 != 3 else "none"}" stroke="{colour}" stroke-width="{1.4 if rule % 4 == 3 else 0.4}"/>')
    if mark is not None:
        x, y = at(mark[1], mark[0])
        cross = f"M{x - 11} {y}h22M{x} {y - 11}v22"
        parts.append(f'<path d="{cross}" stroke="#fff" stroke-width="6" fill="none"/><path d="{cross}" stroke="#8b1f1f" stroke-width="2.5" fill="none"/>')
    return "".join(parts) + "</svg>"


def commonest(zones: list[dict] | None) -> str:
    """The legal zone that most sites of a look keep; "" where none is known."""
    return max(zones, key=lambda one: one["sites"])["zone"] if zones else ""
