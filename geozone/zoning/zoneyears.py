"""Whether zones made for one year hold in those that follow."""

from __future__ import annotations

from dataclasses import dataclass, replace

import geopandas as gpd

from ..numbers import clock
from ..numbers.almanac import LAST_YEAR
from ..plurals import counted
from ..sharing.drift import drift_at, unwrapped_lon_deg
from ..trade.basis import Basis
from .outlines import outline_points
from .zones import ZonePlan

# UT1 alone is 0.9 s: a hair more than allowed is no news [minute].
_NOISE_MIN = 0.015


@dataclass(frozen=True)
class ZoneYear:
    """How zones fare in a later year, by the same settings.

    Attributes
    ----------
    year : int
    zones_beyond : tuple of str
        Zones with a point beyond tolerance on a judged night.
    zones_parted : tuple of str
        Zones whose ground keeps more than one clock then, as far as the tz database foresees.
    over_min : float [minute]
        By how much the tolerance is passed at most; 0 where it is kept.
    moved_min : float [minute]
        By how much the worst minutes of a zone differ from those of the plan's year at most.
    """

    year: int
    zones_beyond: tuple[str, ...]
    zones_parted: tuple[str, ...]
    over_min: float
    moved_min: float


def zones_in_years(plan: ZonePlan, ground: gpd.GeoDataFrame, basis: Basis) -> tuple[ZoneYear, ...]:
    """How zones fare in the years after the first of a basis.

    Parameters
    ----------
    plan : ZonePlan
    ground : GeoDataFrame
        What it was made for.
    basis : Basis
        With `years`.

    Returns
    -------
    tuple of ZoneYear
    """
    own, found = replace(basis, switch_clock="own", years=1), []
    points = [outline_points(zone.outline, own)[:2] for zone in plan.zones]
    for year in range(basis.year + 1, min(basis.year + basis.years - 1, LAST_YEAR) + 1):
        beyond, parted, over, moved = [], [], 0.0, 0.0
        for zone, (lat, lon) in zip(plan.zones, points, strict=True):
            drift = drift_at(lat, unwrapped_lon_deg(lon, zone.setting.legal_zone, year), zone.setting, replace(own, year=year))
            worst = float(drift.worst_dark_min.max()), float(drift.worst_excess_min.max())
            past = max(worst[0] - own.tolerance.dark_min, worst[1] - own.tolerance.excess_min)
            moved = max(moved, abs(worst[0] - zone.worst_dark.minutes), abs(worst[1] - zone.worst_excess.minutes))
            if past > _NOISE_MIN:
                beyond.append(zone.name)
                over = max(over, past)
            if len({clock.offsets(name, year).key for name in (zone.setting.legal_zone, *ground["legal_zone"].iloc[list(zone.pieces)])}) > 1:
                parted.append(zone.name)
        found.append(ZoneYear(year, tuple(beyond), tuple(parted), over, moved))
    return tuple(found)


def said_of_years(years: tuple[ZoneYear, ...], year: int, together: bool) -> str:
    """Whether zones hold in all of these years, in a sentence or two. `together`: found for all of their nights at once."""
    last = years[-1].year
    bad = [one for one in years if one.zones_beyond or one.zones_parted]
    if not bad:
        how = ("Settings found for one year alone would not: these were found for the nights of all of them together, and so are the worst minutes given for zones"
               if together else f"They were found for {year} and tried night by night in each of the others; their worst minutes move by less than "
               f"{max(0.001, max(one.moved_min for one in years) + 0.0005):.3f} min")
        return f"The zones hold from {year} to {last}. {how}."
    said = [f"The zones were to hold from {year} to {last} and do not wholly."]
    for one in bad:
        if one.zones_beyond:
            said.append(f"{one.year}: {_names(one.zones_beyond)} by up to {max(one.over_min, 0.05):.1f} min beyond tolerance.")
        if one.zones_parted:
            said.append(f"{one.year}: ground of {_names(one.zones_parted)} no longer keeps one clock.")
    return " ".join(said)


def _names(names: tuple[str, ...]) -> str:
    return ", ".join(names) if len(names) <= 6 else counted(len(names), "zone")
