"""The work list of an audit as one sealed page: a plan of the places in driving order, and a table that can be sorted."""

from __future__ import annotations

import html
import math

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from ..plurals import counted
from ..schema.vocabulary import AUDIT_RESULT
from ..trade.keypad import keyed_text
from .mappage import WEB, as_json, sealed

_AUDIT = WEB / "audit"
#: A minute of latitude is a nautical mile of 1.852 km, as nearly as a plan of this size shows.
_KM_A_DEGREE = 111.12
#: Corners of outlines that a phone draws at once without waiting.
_MOST_CORNERS = 6_000


def draw_audit(title: str, year: int, work: pd.DataFrame, areas: gpd.GeoDataFrame, summary: dict, coordinate_step_deg: float) -> str:
    """The page: script, style and data inside, nothing fetched; the same audit gives the same text.

    Parameters
    ----------
    title : str
    year : int
    work : pandas.DataFrame
        `WORK`.
    areas : geopandas.GeoDataFrame
        Outlines to draw under the sites.
    summary : dict
        Of the audit.
    coordinate_step_deg : float
        The keypad's step [degree].
    """
    lat, lon = work["lat_deg"].to_numpy(float), work["lon_deg"].to_numpy(float)
    middle = _middle(lat, lon)
    data = {
        "title": f"{title} ({year}): work list", "figures": _figures(summary["audit"]), "caution": summary["cautions"][:1] + ["A lamp found unlit on a live road is reported at once."],
        "foot": [*summary["cautions"], f"geozone {summary['versions']['geozone']}, tz database {summary['versions']['tz database']}"],
        "results": [[term.code, term.words] for term in AUDIT_RESULT.terms], "middle": middle, "km_a_degree": _KM_A_DEGREE,
        "rows": [_row(row, x, coordinate_step_deg) for row, x in zip(work.itertuples(), _near(lon, middle[1]).tolist(), strict=True)],
        "outlines": _outlines(areas, middle[1]) if len(work) else []}
    parts = {"{title}": html.escape(data["title"]), "{styles}": (_AUDIT / "audit.css").read_text(encoding="utf-8"), "{data}": as_json(data),
             "{scripts}": "var geozone = {};\n" + (_AUDIT / "audit.js").read_text(encoding="utf-8")}
    # Piece by piece, so that a text of the user that looks like a place to be filled in stays text.
    made, rest = [], (_AUDIT / "audit.html").read_text(encoding="utf-8")
    for place in ("{title}", "{styles}", "{data}", "{scripts}"):
        head, rest = rest.split(place, 1)
        made += [head, parts[place]]
    return sealed("".join([*made, rest]))


def _figures(audit: dict) -> list[str]:
    work, states = audit["work"], audit["readings"]
    lines = [f"{counted(audit['read'], 'site')} of {audit['sites']:,} read: {states['agrees']:,} agree, which does not prove a setting, "
             f"{states['differs'] + states['no known slip']:,} do not."]
    if work["sites"]:
        lines.append(f"{counted(work['sites'], 'site')} to visit on {counted(work['days'], 'day')}: {work['dark_h']:,.0f} h a year unlit"
                     + (f", {work['waste_kwh']:,.0f} kWh wasted where the load is known" if work["waste_kwh"] else "")
                     + ", if the first explanation of each holds. Days begin with the worst site that is left.")
    return lines


def _row(row, lon_deg: float, step: float) -> dict:
    key = (f"latitude {keyed_text(row.key_lat_deg, step)}, longitude {keyed_text(row.key_lon_deg, step)}, dusk {row.key_dusk_offset_min:+d} min, "
           f"dawn {row.key_dawn_offset_min:+d} min; clock {row.key_clock}")
    return {"rank": int(row.rank), "day": int(row.work_day), "stop": int(row.stop), "id": row.site_id, "name": row.name, "area": row.area, "lat": round(row.lat_deg, 6),
            "lon": round(lon_deg, 6), "result": row.result, "dark": _figure(row.dark_h, 1), "most": _figure(row.dark_most_h, 1), "waste": _figure(row.waste_kwh, 0),
            "diagnosis": row.diagnosis, "next": row.next_reading, "mend": row.mend, "key": key}


def _figure(value: float, places: int) -> float | None:
    return round(float(value), places) if math.isfinite(value) else None


def _middle(lat: np.ndarray, lon: np.ndarray) -> list[float]:
    """The middle of the places, of longitudes as on a circle."""
    if not lat.size:
        return [0.0, 0.0]
    turn = np.radians(lon)
    return [round(float((lat.min() + lat.max()) / 2), 4), round(float(np.degrees(np.arctan2(np.sin(turn).mean(), np.cos(turn).mean()))), 4)]


def _near(lon: np.ndarray, middle: float) -> np.ndarray:
    """Longitudes by the turn that is nearest to the middle: an area at the antimeridian stays together."""
    return (lon - middle + 180) % 360 - 180 + middle


def _outlines(areas: gpd.GeoDataFrame, middle: float) -> list[list[list[float]]]:
    """Rings of outlines, with so few corners that a phone draws them at once."""
    shapes = areas.geometry.to_numpy()
    wide = max(float(np.nanmax(areas.total_bounds[2:] - areas.total_bounds[:2])), 1e-6)
    for part in (2000, 500, 150, 40):
        rings = [np.asarray(ring.coords) for ring in (one.exterior for one in shapely.get_parts(shapely.simplify(shapes, wide / part)) if one.geom_type == "Polygon")
                 if ring is not None and len(ring.coords) > 3]
        if sum(map(len, rings)) <= _MOST_CORNERS:
            break
    else:
        return []
    return [np.column_stack([np.round(_near(ring[:, 0], middle), 4), np.round(ring[:, 1], 4)]).tolist() for ring in rings]
