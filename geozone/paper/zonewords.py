"""Lighting zones on the sheet: what stands where a plan of groups would stand, and zones in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import geopandas as gpd
import pandas as pd

from .words import Words

if TYPE_CHECKING:
    from ..answers import Answers
    from ..zoning.zonetables import ZoneAnswers

# Names that a sentence lists; the table and unserved_areas.csv have all.
_NAMED = 12


def keyed_ground(answers: "Answers") -> tuple[pd.DataFrame, gpd.GeoDataFrame] | None:
    """Settings to key (`group`, keyed position, offsets ...) and their ground (`group`, geometry): of groups, else of zones, else None."""
    if answers.groups is not None:
        return answers.groups.settings, answers.groups.hulls
    if answers.zoning is not None:
        zones = answers.zoning.zones.rename(columns={"zone": "group"})
        return pd.DataFrame(zones.drop(columns="geometry")), zones[["group", "geometry"]]
    return None


def zone_lines(zoning: "ZoneAnswers", words: Words) -> list[str]:
    """How many zones, whether fewer would do, which outlines have none, and which zones are not certified."""
    count = len(zoning.zones)
    if not count:
        return [words("zones_none")]
    lines = [words.count(count, "zones_count" if zoning.by == "area" else f"zones_{zoning.by}")]
    if not zoning.proved:
        lines[0] += " " + words("headline_bound", n=words.number(zoning.lower_bound))
    elif count > 1:
        lines[0] += " " + words("zones_fewer")
    if len(zoning.unserved):
        lines.append(words("zones_unserved", names=_listed(zoning.unserved["area"], words)))
    loose = zoning.zones.loc[~zoning.zones["certified"].astype(bool), "zone"]
    if len(loose):
        lines.append(words("zones_uncertified", names=_listed(loose, words)))
    return lines


def _listed(names: pd.Series, words: Words) -> str:
    more = len(names) - _NAMED
    return ", ".join(map(str, names.head(_NAMED))) + (f", {words('zones_more', n=words.number(more))}" if more > 0 else "")
