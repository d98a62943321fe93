"""Zones as tables: what the writers of files and screens are handed."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from ..numbers import clock
from ..plurals import counted
from ..schema.zone_columns import UNSERVED_AREAS, ZONE_BORDERS, ZONES
from .outlines import area_km2
from .straightborders import border_lines
from .zones import UnservedGround, Zone, ZonePlan

# What zones are made of, in words, and to what the number that is needed at least holds.
_MADE_OF = {"area": ("of whole outlines", ""), "free": ("with free borders", ", wherever the borders run"),
            "grid": ("on a grid of meridians and parallels", ", with sides on the same lines"), "lines": ("of pieces between outlines and lines", "")}


@dataclass(frozen=True, eq=False)
class ZoneAnswers:
    """The zones of a run.

    Attributes
    ----------
    plan : ZonePlan or None
        None for what a run kept for its paper.
    zones : geopandas.GeoDataFrame
        A row a zone, columns as `geozone.schema.zone_columns.ZONES` says, EPSG:4326.
    unserved : pandas.DataFrame
        A row an outline (or piece of one) that no one setting serves.
    outlines : int
        How many outlines were to be divided.
    pieces : int
        The same, cut where the clock changes.
    lower_bound : int
        See `ZonePlan`.
    by : str
        See `ZonePlan`.
    borders : pandas.DataFrame or None
        A row a corner of a border between two zones; None for what a run kept for its paper, and where zones are whole outlines.
    """

    plan: ZonePlan | None
    zones: gpd.GeoDataFrame
    unserved: pd.DataFrame
    outlines: int
    pieces: int
    lower_bound: int
    by: str = "area"
    borders: pd.DataFrame | None = None

    @property
    def proved(self) -> bool:
        """Whether no fewer zones of this kind serve the same ground."""
        return len(self.zones) == self.lower_bound

    @property
    def certified(self) -> bool:
        """Whether every zone is."""
        return bool(self.zones["certified"].astype(bool).all())

    @property
    def headline(self) -> str:
        """How many zones, for what, and whether fewer would do, in one sentence."""
        what = counted(self.outlines, "outline") + (f" in {self.pieces} pieces of one clock each" if self.pieces > self.outlines else "")
        whole = self.by == "area"
        if not len(self.zones):
            which = f"{'any of ' if self.pieces > 1 else ''}the" if whole else "any ground of the"
            return f"No zone: no one setting was found that serves {which} {what}."
        parts = str(len(self.unserved)) + " of them" if whole else counted(len(self.unserved), "part") + " of their ground"
        left = f"; {parts} in no zone" if len(self.unserved) else ""
        made, where = _MADE_OF[self.by]
        proof = ("proved: no fewer will do" if self.proved else f"at least {self.lower_bound} needed") + where
        return f"{counted(len(self.zones), 'zone')} {made} for {what}{left} ({proof})."


def zone_answers(plan: ZonePlan, ground: gpd.GeoDataFrame, zone_of_site: np.ndarray, piece_of_site: np.ndarray, year: int, to_key) -> ZoneAnswers:
    """Tables of a plan of zones.

    Parameters
    ----------
    plan : ZonePlan
    ground : GeoDataFrame
        As `ground_units` makes it: what the plan was made for.
    zone_of_site : (n,) array of str
    piece_of_site : (n,) array of int
        Row of `ground` in which a site lies, -1 for none.
    year : int
    to_key : callable
        Standard time and summer-time rule to key for a legal zone, in words.
    """
    whole = plan.by == "area"
    words = [area + ("" if share > 0.9995 else f" ({share:.0%} of it)") for area, share in zip(ground["area"].astype(str), ground["share"], strict=True)]
    rows = []
    for zone in plan.zones:
        setting, row = zone.setting, {}
        for side, worst in (("dark", zone.worst_dark), ("excess", zone.worst_excess)):
            row |= {f"worst_{side}_min": worst.minutes, f"worst_{side}_lat_deg": worst.lat_deg, f"worst_{side}_lon_deg": worst.lon_deg,
                    f"worst_{side}_night": worst.night, f"worst_{side}_edge": worst.edge}
        areas = [words[piece] for piece in zone.pieces] if whole else _shares(zone, ground)
        rows.append({"zone": zone.name, **_keyed(setting), "clock": _clock(setting.legal_zone, year), "clock_to_key": to_key(setting.legal_zone),
                     "between": _between(plan.sides[len(rows)]) if plan.sides else "", "areas": "; ".join(areas), "area_km2": zone.area_km2,
                     "sites": int((zone_of_site == zone.name).sum()),
                     **row, "tolerance_share": zone.factor, "certified": zone.certified})
    table = gpd.GeoDataFrame(pd.DataFrame(rows, columns=list(ZONES.names)), geometry=[zone.outline for zone in plan.zones], crs="EPSG:4326")
    left = []
    for one in plan.unserved:
        area = words[one.piece] if whole else _share(ground, one.piece, one.area_km2 / area_km2(ground.geometry.iloc[one.piece]))
        left.append({"area": area, "clock": _clock(ground["legal_zone"].iloc[one.piece], year), "area_km2": one.area_km2,
                     "sites": int(((piece_of_site == one.piece) & (zone_of_site == "")).sum()), "dark_min": _up(one.dark_min), "excess_min": _up(one.excess_min),
                     "tolerance_share": one.factor, **_keyed(one.setting), "proved": one.proved, **_parts(one)})
    unserved = pd.DataFrame(left, columns=list(UNSERVED_AREAS.names)).astype({name: "Int64" for name in ("parts_at_least", "parts_of_points", "points_tried")})
    return ZoneAnswers(plan, table, unserved, int(ground["area"].nunique()), len(ground), plan.lower_bound, plan.by, None if whole else _borders(plan, year))


def _between(sides: tuple[float, float, float, float]) -> str:
    """The sides of a rectangle in words: "36.9 and 39.1 N, 102.1 and 99.5 W"."""
    west, south, east, north = sides

    def side(value: float, letters: str) -> str:
        return f"{abs(value):.9g} {letters[value < 0]}" if value else "0"

    def pair(one: float, other: float, letters: str) -> str:
        first, last = side(one, letters), side(other, letters)
        return f"{first.removesuffix(last[-2:])} and {last}" if one and other and (one < 0) == (other < 0) else f"{first} and {last}"

    return f"{pair(south, north, 'NS')}, {pair(west, east, 'EW')}"


def _shares(zone: Zone, ground: gpd.GeoDataFrame) -> list[str]:
    """Outlines in which a zone lies, the largest first, each with the share of it."""
    shapes = ground.geometry.to_numpy()[list(zone.pieces)]
    shared = shapely.area(shapely.intersection(shapes, zone.outline))
    order = np.argsort(-shared, kind="stable")
    return [_share(ground, zone.pieces[at], shared[at] / shapes[at].area) for at in order]


def _share(ground: gpd.GeoDataFrame, piece: int, of_piece: float) -> str:
    """An outline with the share of it that is meant, unless it is all."""
    share = of_piece * float(ground["share"].iloc[piece])
    return str(ground["area"].iloc[piece]) + ("" if share > 0.9995 else f" ({share:.0%} of it)" if share >= 0.005 else " (under 1% of it)")


def _borders(plan: ZonePlan, year: int) -> pd.DataFrame:
    """Borders between zones, corner by corner."""
    rows, keys = [], [clock.offsets(zone.setting.legal_zone, year).key for zone in plan.zones]
    for number, (one, other, corners) in enumerate(border_lines([zone.outline for zone in plan.zones]), start=1):
        line = {"border": number, "zone": plan.zones[one].name, "neighbour": plan.zones[other].name, "clock_changes": keys[one] != keys[other]}
        rows += [{**line, "corner": at, "lat_deg": float(lat), "lon_deg": float(lon)} for at, (lon, lat) in enumerate(corners, start=1)]
    return pd.DataFrame(rows, columns=list(ZONE_BORDERS.names))


def _parts(one: UnservedGround) -> dict:
    """Parts that an outline needs; gaps where it is not known."""
    parts = one.parts
    return {"parts_at_least": None if parts is None else parts.at_least, "parts_of_points": (parts.of_points or None) if parts else None,
            "points_tried": parts.points if parts else None}


def parts_words(row) -> str:
    """How many parts an outline needs, for the end of a sentence; "" where that is not known. `row`: of `ZoneAnswers.unserved`."""
    if pd.isna(row.parts_at_least):
        return ""
    tried = "" if pd.isna(row.parts_of_points) else \
        f", and {counted(int(row.parts_of_points), 'setting serves', 'settings serve')} the {int(row.points_tried):,} points of it that were tried"
    return f"; divided, it needs at least {counted(int(row.parts_at_least), 'part')}{tried}"


def ground_words(row) -> str:
    """Where a zone lies. `row`: of `ZoneAnswers.zones`."""
    return f"between {row.between}: {row.areas}" if row.between else str(row.areas)


def piece_of_sites(sites: pd.DataFrame, ground: gpd.GeoDataFrame, year: int) -> np.ndarray:
    """(n,) int64: the row of the ground in which each site lies; -1 outside all, and where the site keeps another clock than its ground."""
    rows = {(area, clock.offsets(zone, year).key): row for row, (area, zone) in enumerate(zip(ground["area"], ground["legal_zone"], strict=True))}
    keys = {zone: clock.offsets(zone, year).key for zone in sites["legal_zone"].unique()}
    return np.array([rows.get((area, keys[zone]), -1) for area, zone in zip(sites["area"], sites["legal_zone"], strict=True)], dtype=np.int64)


def zone_of_points(plan: ZonePlan, sites: pd.DataFrame, piece_of_site: np.ndarray, year: int) -> np.ndarray:
    """(n,) array of str: the zone in whose outline each site lies, of those on its clock; "" for none, and for a site of no piece."""
    keys = {zone: clock.offsets(zone, year).key for zone in {*sites["legal_zone"], *(one.setting.legal_zone for one in plan.zones)}}
    found = np.full(len(sites), "", dtype=object)
    legal, lon, lat = sites["legal_zone"].to_numpy(), sites["lon_deg"].to_numpy(float), sites["lat_deg"].to_numpy(float)
    for zone in plan.zones:
        same = np.array([keys[one] == keys[zone.setting.legal_zone] for one in legal], dtype=bool)
        rows = np.flatnonzero((found == "") & same & (piece_of_site >= 0))
        found[rows[shapely.intersects_xy(zone.outline, lon[rows], lat[rows])]] = zone.name
    return found


def zones_summary(answers: ZoneAnswers) -> dict:
    """The figures of the zones under names that stay."""
    plan = answers.plan
    return {"by": plan.by, "count": plan.count, "lower_bound": plan.lower_bound, "proved": plan.proved, "gap": plan.count - plan.lower_bound,
            "worst_dark_min": max((zone.worst_dark.minutes for zone in plan.zones), default=None),
            "worst_excess_min": max((zone.worst_excess.minutes for zone in plan.zones), default=None),
            "border_km": plan.border_km, "certified": plan.certified, "undecided_km2": plan.undecided_km2,
            "years_searched": plan.years_searched, "unserved_km2": sum(one.area_km2 for one in plan.unserved), "overlaps": [list(pair) for pair in plan.overlaps],
            "zones": answers.zones.drop(columns="geometry").to_dict("records"), "unserved": answers.unserved.to_dict("records")}


def _keyed(setting) -> dict:
    return {"lat_deg": setting.lat_deg, "lon_deg": setting.lon_deg, "legal_zone": setting.legal_zone, "dusk_offset_min": setting.dusk_offset_min,
            "dawn_offset_min": setting.dawn_offset_min}


def _clock(legal_zone: str, year: int) -> str:
    return clock.rule_text(clock.offsets(legal_zone, year), year)


def _up(minutes: float) -> float:
    """In tenths, rounded up: a tolerance that is said to do must do."""
    return float(np.ceil(minutes * 10 - 1e-6) / 10)
