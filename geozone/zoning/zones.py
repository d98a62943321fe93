"""The fewest lighting zones for whole outlines: every point of a zone is within tolerance with its one setting."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import geopandas as gpd
import numpy as np
import shapely

from ..errors import InputError
from ..grouping.groups import fewest_groups
from ..grouping.siteparts import GroupSites
from ..numbers import clock
from ..places.located import column_of
from ..sharing.drift import drift_at, night_label, unwrapped_lon_deg
from ..trade.basis import Basis
from ..trade.setting import Setting, Tolerance
from .outlines import STRAY_MIN, area_km2, border_km, outline_points
from .parts import PartsNeeded, parts_of_all

#: Ground of more square degrees than this is too much for zones whose borders are looked for.
WIDEST_DEG2 = 2000.0
#: Settings are looked for within so much less than the tolerance [minute]: ground between the points, and ties of round figures.
ROOM_MIN = 2 * STRAY_MIN


class ZonesRefusedError(InputError):
    """Zones of this kind cannot be looked for on this ground; those of another kind may."""


@dataclass(frozen=True)
class Worst:
    """The worst minutes in a zone, with the place and the night."""

    minutes: float
    lat_deg: float
    lon_deg: float
    night: str
    edge: str


@dataclass(frozen=True, eq=False)
class Zone:
    """One zone.

    Attributes
    ----------
    name : str
        "Z1", "Z2", ...
    setting : Setting
    pieces : tuple of int
        Rows of the table of pieces that it is made of.
    outline : shapely geometry
        Degrees.
    area_km2 : float
    worst_dark, worst_excess : Worst
        Over all of its ground, not only where sites stand.
    factor : float
        The same in units of the tolerance.
    certified : bool
        True if no point of it is beyond tolerance on any night, the ground between the points that were computed included.
    """

    name: str
    setting: Setting
    pieces: tuple[int, ...]
    outline: shapely.Geometry
    area_km2: float
    worst_dark: Worst
    worst_excess: Worst
    factor: float
    certified: bool


@dataclass(frozen=True)
class UnservedGround:
    """An outline, or its piece on one clock, that no single setting serves.

    Attributes
    ----------
    piece : int
        Its row in the table of pieces.
    setting : Setting
        The one that misses least of those that were looked at.
    dark_min, excess_min : float
        Tolerances that would do with it.
    factor : float
    proved : bool
        True if no setting of the keypad serves it, False if none was found.
    area_km2 : float
    parts : PartsNeeded or None
        None where nights are so short that points of it prove nothing, and where the time did not last.
    """

    piece: int
    setting: Setting
    dark_min: float
    excess_min: float
    factor: float
    proved: bool
    area_km2: float
    parts: PartsNeeded | None = None


@dataclass(frozen=True, eq=False)
class ZonePlan:
    """The zones of a service area.

    Attributes
    ----------
    by : {"area", "free", "grid", "lines"}
        What a zone is made of: whole outlines, whatever ground one setting serves, rectangles between meridians and parallels, or
        pieces between outlines and lines.
    zones : tuple of Zone
    unserved : tuple of UnservedGround
    zone_of_piece : (n,) of str
        Zone of each piece, "" for none, and where pieces are not what zones are made of.
    lower_bound : int
        No zones of the same kind that serve the same ground are fewer.
    border_km : float
        Between zones; coasts and the outer edge are not counted.
    overlaps : tuple of (str, str)
        Outlines that lie over each other: a point there has two zones if they have.
    apart : tuple of str
        Zones with free borders that lie in parts with another zone between them on the same piece of land.
    sides : tuple of (float, float, float, float)
        West, south, east and north side of each zone where they are rectangles [degree].
    years_searched : int
        Of how many years the nights are that the settings were found for.
    """

    by: str
    zones: tuple[Zone, ...]
    unserved: tuple[UnservedGround, ...]
    zone_of_piece: np.ndarray
    lower_bound: int
    border_km: float
    overlaps: tuple[tuple[str, str], ...] = ()
    apart: tuple[str, ...] = ()
    sides: tuple[tuple[float, float, float, float], ...] = ()
    years_searched: int = 1

    @property
    def count(self) -> int:
        return len(self.zones)

    @property
    def proved(self) -> bool:
        return self.count == self.lower_bound

    @property
    def certified(self) -> bool:
        """True if all zones are."""
        return all(zone.certified for zone in self.zones)

    @property
    def undecided_km2(self) -> float:
        """Ground of zones that are not certified."""
        return sum(zone.area_km2 for zone in self.zones if not zone.certified)


def ground_units(pieces: gpd.GeoDataFrame, year: int) -> gpd.GeoDataFrame:
    """Outlines, each whole or in as many pieces as its ground has clocks.

    Parameters
    ----------
    pieces : GeoDataFrame
        As `geozone.places.zonepieces.cut_areas` makes it.
    year : int

    Returns
    -------
    GeoDataFrame
        area, legal_zone (of two that keep one clock the one with more of the outline), clock_rule_text, share, geometry.
    """
    keys = [(area, clock.offsets(zone, year).key) for area, zone in zip(pieces["area"], pieces["legal_zone"], strict=True)]
    first: dict = {}
    of = np.array([first.setdefault(key, len(first)) for key in keys], dtype=int)
    begins = np.unique(of, return_index=True)[1]
    # Pieces of an outline come with the larger ones first.
    table = pieces.iloc[begins][["area", "legal_zone", "clock_rule_text"]].reset_index(drop=True)
    shapes = pieces.geometry.to_numpy()
    return gpd.GeoDataFrame(table.assign(share=np.bincount(of, weights=pieces["share"].to_numpy(float))),
                            geometry=[shapely.union_all(shapes[of == row]) for row in range(len(begins))], crs=pieces.crs)


def zones_of(pieces: gpd.GeoDataFrame, basis: Basis, *, time_limit_s: float = 30.0) -> ZonePlan:
    """The fewest settings such that each outline has one that serves every point of it.

    Parameters
    ----------
    pieces : GeoDataFrame
        As `ground_units` makes it: area, legal_zone, geometry; a row is not divided.
    basis : Basis
    time_limit_s : float [second]

    Returns
    -------
    ZonePlan

    Raises
    ------
    InputError
        If there is no outline, one without a surface, or one at a pole.
    """
    named, zone_names = checked_outlines(pieces), pieces["legal_zone"].to_numpy(dtype=object)
    sampled = [outline_points(shape, basis) for shape in pieces.geometry]
    of = np.repeat(np.arange(len(pieces)), [len(lat) for lat, _, _ in sampled])
    lat, lon = (np.concatenate([one[axis] for one in sampled]) for axis in (0, 1))
    certain = np.array([one[2] for one in sampled])

    def search(keep: np.ndarray, tolerance: Tolerance, seconds: float):
        rows = np.flatnonzero(np.isin(of, keep))
        ground = GroupSites(lat[rows], lon[rows], basis.year, legal_zone=zone_names[of[rows]], keep_together=of[rows].astype(str))
        return rows, fewest_groups(ground, replace(basis, tolerance=tolerance, switch_clock="own"), time_limit_s=seconds, hurry=False)

    tolerance = basis.tolerance
    rows, plan = search(np.arange(len(pieces)), tighter(tolerance, ROOM_MIN), 0.6 * time_limit_s)
    of_piece = np.full(len(pieces), "", dtype=object)
    of_piece[of[rows]] = plan.group_of_site
    served = np.flatnonzero(of_piece != "")
    # The bound must hold for the tolerance itself; points of the ground are ground, so theirs holds for all of it.
    lower = search(served, tolerance, 0.4 * time_limit_s)[1].lower_bound if served.size else 0
    zones = []
    for number, one in enumerate(plan.settings, start=1):
        mine = np.flatnonzero(of_piece == one.name)
        outline, points = shapely.union_all(pieces.geometry.to_numpy()[mine]), np.isin(of, mine)
        zones.append(judged_zone(f"Z{number}", one.setting, mine, outline, (lat[points], lon[points], bool(certain[mine].all())), basis))
    name_of = {one.name: zone.name for one, zone in zip(plan.settings, zones, strict=True)}
    missed = np.flatnonzero(of_piece == "")
    # That no setting serves a piece must hold for the tolerance itself as well.
    missed = missed[certain[missed]]
    sure = {one.unit for one in search(missed, tolerance, 0.2 * time_limit_s)[1].unserved if one.proved} if missed.size else set()
    parts = dict(zip(missed.tolist(), parts_of_all(pieces.geometry.to_numpy()[missed], zone_names[missed], basis, 0.2 * time_limit_s), strict=True))
    unserved = tuple(UnservedGround(int(one.unit), one.setting, one.dark_min + ROOM_MIN, one.excess_min + ROOM_MIN, one.tolerance_factor,
                                    one.proved and one.unit in sure, area_km2(pieces.geometry.iloc[int(one.unit)]), parts.get(int(one.unit)))
                     for one in sorted(plan.unserved, key=lambda one: int(one.unit)))
    return ZonePlan("area", tuple(zones), unserved, np.array([name_of.get(name, "") for name in of_piece], dtype=object), min(lower, len(zones)),
                    border_km([zone.outline for zone in zones]), overlaps(list(named), pieces.geometry))


def judged_zone(name: str, setting: Setting, mine: np.ndarray, outline, points: tuple[np.ndarray, np.ndarray, bool], basis: Basis) -> Zone:
    """A zone with the worst that its setting does anywhere in it.

    Parameters
    ----------
    name : str
    setting : Setting
    mine : (n,) array of int
        Rows of the table of pieces in which it lies.
    outline : Polygon or MultiPolygon
    points : tuple
        As `outline_points`.
    basis : Basis
    """
    lat, lon, certain = points
    own = replace(basis, switch_clock="own")
    found = drift_at(lat, unwrapped_lon_deg(lon, setting.legal_zone, basis.year), setting, own)
    nights = {kind: night_label(getattr(found, f"worst_{kind}_night"), basis.year, basis.years) for kind in ("dark", "excess")}
    worst = {}
    for kind in ("dark", "excess"):
        minutes = getattr(found, f"worst_{kind}_min")
        at = int(minutes.argmax())
        worst[kind] = Worst(float(minutes[at]), float(lat[at]), float(lon[at]), str(nights[kind][at]), str(getattr(found, f"worst_{kind}_edge")[at]))
    inside = (worst["dark"].minutes <= basis.tolerance.dark_min - STRAY_MIN and worst["excess"].minutes <= basis.tolerance.excess_min - STRAY_MIN)
    return Zone(name, setting, tuple(mine.tolist()), outline, area_km2(outline), worst["dark"], worst["excess"],
                float(found.factor(basis.tolerance).max()), certain and inside)


def checked_outlines(pieces: gpd.GeoDataFrame) -> np.ndarray:
    """Names of outlines, each of which has a surface.

    Raises
    ------
    InputError
        If there is none, or one without a surface.
    """
    named = column_of(pieces, "area", "pieces")
    if not len(pieces):
        raise InputError("there are no outlines to make zones of", next_step="name a file of outlines as areas in [job]")
    for name, shape in zip(named, pieces.geometry, strict=True):
        if shape is None or shape.is_empty or not shape.area > 0:
            raise InputError("an outline has no surface", value=str(name), next_step="take it out, or draw it as a polygon")
    return named


def refuse_wide(pieces: gpd.GeoDataFrame, kind: str) -> None:
    """Stop where the ground is too wide for zones of a kind whose borders are looked for.

    Raises
    ------
    ZonesRefusedError
    """
    if (wide := float(shapely.area(pieces.geometry.to_numpy()).sum())) > WIDEST_DEG2:
        raise ZonesRefusedError(f"the ground is too wide for zones {kind}", value=f"{wide:,.0f} square degrees", rule=f"{WIDEST_DEG2:,.0f} at most",
                                next_step='give the outlines of a part of it, or ask for by = "area"')


def tighter(tolerance: Tolerance, by_min: float) -> Tolerance:
    """A tolerance of so much less [minute], but half of it at least."""
    return replace(tolerance, dark_min=max(tolerance.dark_min - by_min, 0.5 * tolerance.dark_min),
                   excess_min=max(tolerance.excess_min - by_min, 0.5 * tolerance.excess_min))


def overlaps(named: Sequence, shapes: gpd.GeoSeries) -> tuple[tuple[str, str], ...]:
    """Outlines of different names that share more than slivers: over a thousandth of the smaller one."""
    shapes, found = shapes.to_numpy(), set()
    for i, j in zip(*shapely.STRtree(shapes).query(shapes, predicate="intersects"), strict=True):
        if i < j and str(named[i]) != str(named[j]):
            shared = shapely.intersection(shapes[i], shapes[j]).area
            if shared > 1e-3 * min(shapes[i].area, shapes[j].area):
                found.add((str(named[i]), str(named[j])))
    return tuple(sorted(found))
