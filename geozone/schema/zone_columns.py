"""Tables of the lighting zones."""

from __future__ import annotations

from .column import Column, Table
from .site_columns import keyed_columns, share_column, worst_columns

_ZONES = "zones"


def _worst_with_place() -> tuple[Column, ...]:
    """Worst minutes over the ground, each with its place, night and event."""
    found: list[Column] = []
    for column in worst_columns(" anywhere in the zone", _ZONES):
        found.append(column)
        if column.name.endswith("_min"):
            side, heading = column.name.removesuffix("_min"), column.heading
            found += [Column(f"{side}_lat_deg", f"{heading}: latitude", "Latitude of the place at which it happens, north positive.", "number", "degrees", 6, _ZONES),
                      Column(f"{side}_lon_deg", f"{heading}: longitude", "Longitude of the place at which it happens, east positive.", "number", "degrees", 6, _ZONES)]
    return tuple(found)


ZONES = Table("zones", "A row a lighting zone: ground on which one setting keeps every point within tolerance.", (
    Column("zone", "Lighting zone", "Number of the zone.", "text", source=_ZONES),
    *keyed_columns("", _ZONES, where=" in this zone"),
    Column("clock", "Clock", "Legal clock of its ground in words.", "text", source="legal time"),
    Column("clock_to_key", "Clock to key", "Standard time and summer-time rule to key, as the keypad has them.", "text", source="legal time"),
    Column("between", "Between", "Parallels and meridians between which all of its ground lies, where zones are rectangles; else empty.", "text", source=_ZONES),
    Column("areas", "Areas", "Outlines in which it lies; of one that is not wholly in it also the share of its ground.", "text", source="outlines"),
    Column("area_km2", "Surface", "Surface on the ellipsoid.", "number", "km2", 1, "outlines"),
    Column("sites", "Sites", "Sites of the list that lie in it.", "whole", source="site list"),
    *_worst_with_place(),
    share_column(_ZONES, ", anywhere in the zone"),
    Column("certified", "Certified", "True if no point of the zone is beyond tolerance on any night, the ground between the computed points included.", "flag",
           source=_ZONES),
))
ZONE_BORDERS = Table("zone_borders", "A row a corner of a border between two lighting zones; from each to the next it runs straight on the map.", (
    Column("border", "Border", "Number of the border: a line between two zones.", "whole", source=_ZONES),
    Column("zone", "Lighting zone", "Zone on one side.", "text", source=_ZONES),
    Column("neighbour", "Other zone", "Zone on the other side.", "text", source=_ZONES),
    Column("clock_changes", "Change of clock", "True where the border is that of legal time, false where only the setting changes.", "flag", source=_ZONES),
    Column("corner", "Corner", "Number of the corner along the border.", "whole", source=_ZONES),
    Column("lat_deg", "Latitude", "Latitude of the corner, north positive.", "number", "degrees", 6, _ZONES),
    Column("lon_deg", "Longitude", "Longitude of the corner, east positive.", "number", "degrees", 6, _ZONES),
))
UNSERVED_AREAS = Table("unserved_areas", "A row an outline, or a part of it, that no one setting serves: it is in no zone.", (
    Column("area", "Area", "Name of the outline; where not all of it is meant also the share of its ground.", "text", source="outlines"),
    Column("clock", "Clock", "Legal clock of its ground in words.", "text", source="legal time"),
    Column("area_km2", "Surface", "Surface on the ellipsoid.", "number", "km2", 1, "outlines"),
    Column("sites", "Sites", "Sites of the list that lie in it.", "whole", source="site list"),
    Column("dark_min", "Unlit allowed", "Tolerance of unlit minutes with which one setting would do.", "number", "min", 2, _ZONES),
    Column("excess_min", "Lit too long allowed", "Tolerance of minutes lit too long with which one setting would do.", "number", "min", 2, _ZONES),
    share_column(_ZONES), *keyed_columns("", _ZONES),
    Column("proved", "Proved", "True if no setting of the keypad serves it; false where none was found.", "flag", source=_ZONES),
    Column("parts_at_least", "Parts, at least", "However it is divided into parts with one setting each, no fewer will do; empty where it was not looked for.",
           "whole", source=_ZONES),
    Column("parts_of_points", "Settings for its points", "Settings that serve all points of it that were tried: about as many parts; empty if not all are served.",
           "whole", source=_ZONES),
    Column("points_tried", "Points tried", "Points along the outline and within it for which settings were looked for.", "whole", source=_ZONES),
))


def _answered(what: str, prefix: str, words: str) -> tuple[Column, ...]:
    return (
        *keyed_columns(f"{prefix}key_", _ZONES, where=f" here by {words}"),
        Column(f"{prefix}key_clock", "Clock to key", "Standard time and summer-time rule to key, as the keypad has them.", "text", source="legal time"),
        Column(f"{what}_dark_min", "Unlit, worst", f"Longest time unlit that should be lit, at this place with the setting of {words}.", "number", "min", 2, _ZONES),
        Column(f"{what}_dark_night", "Unlit, worst: night", "Night in which it happens, named by the date of the evening.", "date", source=_ZONES),
        Column(f"{what}_excess_min", "Lit too long, worst", f"Longest time lit without need, at this place with the setting of {words}.", "number", "min", 2, _ZONES),
        Column(f"{what}_excess_night", "Lit too long, worst: night", "Night in which it happens, named by the date of the evening.", "date", source=_ZONES),
        Column(f"{what}_within", "Within tolerance", "True if both are within tolerance; empty without a setting.", "flag", source=_ZONES),
    )


#: Of `geozone which`; no file of a run.
WHICH = Table("which", "A row a place: its zone, and the setting of the groups that fits it best.", (
    Column("site_id", "Site", "Identification of the place, as in the list.", "text", source="site list"),
    Column("lat_deg", "Latitude", "Latitude of the place, north positive.", "number", "degrees", 6, "site list"),
    Column("lon_deg", "Longitude", "Longitude of the place, east positive.", "number", "degrees", 6, "site list"),
    Column("legal_zone", "Legal zone", "Zone of the IANA time zone database that is law at the place.", "text", source="legal time"),
    Column("zone", "Lighting zone", "Lighting zone in which it lies; empty outside all zones, and where its clock is not the ground's.", "text", source=_ZONES),
    *_answered("zone", "", "its zone"),
    Column("certified", "Certified", "True if the zone is certified at every point.", "flag", source=_ZONES),
    Column("group", "Group", "Group on its clock whose setting has the smallest worst minutes here; empty if none keeps its clock.", "text", source=_ZONES),
    *_answered("group", "group_", "that group"),
))
