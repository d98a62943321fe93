"""How many parts an outline needs that no single setting serves."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import numpy as np
import shapely

from ..errors import PlanCheckError
from ..grouping.groups import fewest_groups
from ..grouping.siteparts import GroupSites
from ..trade.basis import Basis

# Points along outlines are enough for the bound to tell; more only take longer.
_RIM_POINTS, _INNER_POINTS = 240, 120


@dataclass(frozen=True)
class PartsNeeded:
    """Parts of an outline, one setting each.

    Attributes
    ----------
    at_least : int
        No fewer parts will do, however it is divided: so many settings its points need.
    of_points : int
        Settings that serve all of its points that were tried: about as many parts. 0 if some of them are served by none.
    points : int
        How many were tried.
    """

    at_least: int
    of_points: int
    points: int


def parts_needed(shape, legal_zone: str, basis: Basis, time_limit_s: float) -> PartsNeeded | None:
    """The fewest settings for points along an outline and within it.

    Parameters
    ----------
    shape : Polygon or MultiPolygon
        Degrees, on one clock.
    legal_zone : str
    basis : Basis
    time_limit_s : float [second]

    Returns
    -------
    PartsNeeded or None
        None where the search failed its own check.

    Notes
    -----
    Whoever divides the ground into parts of one setting each gives each of its points one of these settings. So what the points
    need at least, the ground does. The other way round is not said: between the points a part may need more.
    """
    rim = shapely.get_coordinates(shapely.segmentize(shape, max(shape.length / _RIM_POINTS, 1e-6)))
    west, south, east, north = shape.bounds
    step = np.sqrt((east - west) * (north - south) / _INNER_POINTS)
    lon, lat = (axis.ravel() for axis in np.meshgrid(np.arange(west + step / 2, east, step), np.arange(south + step / 2, north, step)))
    inside = shapely.contains_xy(shape, lon, lat)
    # A rim of thousands of corners is thinned evenly, which a bound may.
    rim = np.unique(rim[:: max(1, len(rim) // (2 * _RIM_POINTS))], axis=0)
    points = np.concatenate([rim, np.column_stack([lon[inside], lat[inside]])])
    sites = GroupSites(points[:, 1], points[:, 0], basis.year, legal_zone=np.full(len(points), legal_zone, dtype=object))
    try:
        plan = fewest_groups(sites, replace(basis, switch_clock="own"), time_limit_s=time_limit_s, hurry=False)
    except PlanCheckError:
        return None
    return PartsNeeded(plan.lower_bound, 0 if plan.unserved else plan.count, len(points))


def parts_of_all(shapes, legal_zones, basis: Basis, time_limit_s: float) -> list[PartsNeeded | None]:
    """`parts_needed` of several outlines, as far as the time lasts; None for the rest."""
    ends, found = time.monotonic() + time_limit_s, []
    for number, (shape, legal_zone) in enumerate(zip(shapes, legal_zones, strict=True)):
        left = (ends - time.monotonic()) / max(1, min(4, len(shapes) - number))
        found.append(parts_needed(shape, legal_zone, basis, left) if left > 0.2 else None)
    return found
