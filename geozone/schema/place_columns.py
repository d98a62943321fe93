"""Tables and layers about rows that could not be used, the ground and the nights."""

from __future__ import annotations

from .column import Column, Table

_SUN = "sun"

REJECTS = Table("rejects", "A row a row of the site list that could not be used.", (
    Column("file", "File", "File that the row was read from.", "text", source="site list"),
    Column("row", "Row", "Row of the file, counted as a spreadsheet counts it.", "whole", source="site list"),
    Column("value", "Value", "What stood there.", "text", source="site list"),
    Column("reason", "Reason", "Why it could not be used.", "text", source="site list"),
))


def _nightly(edge: str) -> tuple[Column, ...]:
    found: list[Column] = []
    for which in ("earliest", "latest"):
        found.append(Column(f"{edge}_{which}_utc", f"{which.capitalize()} {edge}, UTC",
                            f"The {which} {edge} over the area, in UTC.", "text", source=_SUN))
    found.append(Column(f"{edge}_spread_min", f"{edge.capitalize()} apart", f"Minutes between the earliest and the latest {edge}.",
                        "number", "min", 2, _SUN))
    for which in ("earliest", "latest"):
        for axis, word in (("lat", "Latitude"), ("lon", "Longitude")):
            found.append(Column(f"{edge}_{which}_{axis}_deg", f"{word} of the {which} {edge}",
                                f"{word} of the place with the {which} {edge}.", "number", "degrees", 6, _SUN))
    return tuple(found)


SPREAD = Table("spread", "A row a night: how far apart dusk and dawn are over the area.", (
    Column("night", "Night", "Night, named by the date of the evening.", "date", source=_SUN),
    *_nightly("dusk"), *_nightly("dawn"),
    Column("points_without", "Places without", "Places of the area's grid at which the sun does not pass the dark threshold.",
           "whole", source=_SUN),
))

AREAS = Table("areas", "A row an outline.", (
    Column("area", "Area", "Name of the outline.", "text", source="outlines", on_map=True),
))
AREA_PIECES = Table("area_pieces", "A row a piece of an outline with one legal time.", (
    Column("area", "Area", "Name of the outline.", "text", source="outlines", on_map=True),
    Column("legal_zone", "Legal zone", "Zone of the IANA time zone database that is law there.", "text", source="legal time",
           on_map=True),
    Column("clock_rule_text", "Clock", "Its clock in words.", "text", source="legal time", on_map=True),
    Column("share", "Share", "Part of the outline's ground, 0 to 1.", "number", "", 6, "legal time", on_map=True),
))
DRIFT_LINES = Table("drift_lines", "A row a line on the map.", (
    Column("kind", "Kind", "What the line joins.", "word", source="shared setting", vocabulary="line", on_map=True),
    Column("factor", "Share of the tolerance", "Worst minutes along the line as a share of the tolerance.", "number", "", 3,
           "shared setting"),
    Column("label", "Label", "What the line is marked with.", "text", source="shared setting", on_map=True),
    Column("dusk", "Dusk", "Date, time and offset from UTC of the dusk that the line joins, in the manner of ISO 8601; empty for lines of minutes.",
           "text", source="legal time"),
))
GRID = Table("grid", "A row a point of a grid over the area.", (
    Column("lat_deg", "Latitude", "Latitude of the point, north positive.", "number", "degrees", 6, _SUN),
    Column("lon_deg", "Longitude", "Longitude of the point, east positive.", "number", "degrees", 6, _SUN),
    Column("worst_dark_min", "Unlit, worst", "Longest time unlit there with the shared setting.", "number", "min", 2,
           "shared setting"),
    Column("worst_excess_min", "Lit too long, worst", "Longest time lit without need there with the shared setting.", "number",
           "min", 2, "shared setting"),
    Column("tolerance_share", "Share of the tolerance used", "Worst minutes as a share of the tolerance: above 1 is beyond.", "number",
           "", 3, "shared setting"),
))
