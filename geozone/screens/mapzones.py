"""The lighting zones on the map page, as plain data: headline, what to key zone by zone, outlines, the ground in no zone."""

from __future__ import annotations

import numpy as np
import pandas as pd
import shapely

from ..answers import Answers
from ..grouping.grouphues import hues_apart
from ..zoning.zonetables import ground_words
from .mapcolumns import known_places
from .mapgroups import LETTERED_PIECES, MOST_LISTED, keyed
from .mapoutlines import Frame, places_for_a_name, rings, thinned
from .mapwords import minutes


def page_zones(answers: Answers, frame: Frame) -> dict | None:
    """Everything that the page shows of the zones; None if the run has none.

    Returns
    -------
    dict or None
        ``headline``, ``rows`` (a zone each, with its outline), ``certified``, ``without`` (sites in no zone), ``unserved``, ``more``.
        Every text in it is untrusted and is shown as text only.
    """
    zoning = answers.zoning
    if zoning is None:
        return None
    listed = zoning.unserved.head(MOST_LISTED)
    return {
        "headline": zoning.headline, "rows": _rows(answers, frame), "certified": zoning.certified,
        "without": int((answers.sites["zone"] == "").sum()),
        "unserved": [{"area": str(row.area), "dark": minutes(row.dark_min), "excess": minutes(row.excess_min), "proved": bool(row.proved),
                      "parts": "" if pd.isna(row.parts_at_least) else str(row.parts_at_least)}
                     for row in listed.itertuples()],
        "more": len(zoning.unserved) - len(listed),
    }


def _rows(answers: Answers, frame: Frame) -> list[dict]:
    table, step_deg = answers.zoning.zones, answers.keypad.coordinate_step_deg
    shapes = frame.unrolled(table.set_index("zone").geometry)
    looks = dict(zip(shapes.index, hues_apart(list(shapes)), strict=True))
    shapes = thinned(shapes)
    rows = []
    for row in table.itertuples():
        shape, (hue, cycle) = shapes[row.zone], looks[row.zone]
        pieces = sorted((part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"), key=lambda part: part.area, reverse=True)
        rows.append({
            "name": str(row.zone), "hue": hue, "cycle": cycle, "sites": int(row.sites) if answers.listed else None, "areas": ground_words(row), "km2": f"{row.area_km2:,.0f}",
            **keyed(row, step_deg), "clock": str(row.clock), "to_key": str(row.clock_to_key), "certified": bool(row.certified),
            "dark": [minutes(row.worst_dark_min), str(row.worst_dark_night)], "excess": [minutes(row.worst_excess_min), str(row.worst_excess_night)],
            "rings": rings(shape), "places": [places_for_a_name(piece, 5) for piece in pieces[:LETTERED_PIECES]],
        })
    return rows


def zone_site_column(sites: pd.DataFrame, names: list[str]) -> dict[str, np.ndarray]:
    """The place of each site's zone among the zones."""
    return {"lighting_zone": known_places(sites["zone"].astype(str), tuple(names))}
