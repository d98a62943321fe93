"""The crew lead's table."""

from __future__ import annotations

from .column import Column, Table
from .site_columns import keyed_columns

_PLAN, _LIST = "plan", "site list"

CREW = Table("crew", "A row a cabinet, or a site without one, in driving order: what is keyed there.", (
    Column("drive", "Drive", "Place in driving order: area by area, then always on to the nearest; not the shortest tour.", "whole", source=_PLAN),
    Column("cabinet", "Cabinet", "Cabinet, from the column named in keep_together; empty for a site without one.", "text", source=_LIST),
    Column("sites", "Sites", "Sites in it.", "whole", source=_LIST),
    Column("lat_deg", "Latitude", "Middle of its sites, north positive.", "number", "degrees", 6, _LIST),
    Column("lon_deg", "Longitude", "Middle of its sites, east positive.", "number", "degrees", 6, _LIST),
    Column("area", "Area", "Outline that its first site lies in.", "text", source="outlines"),
    Column("group", "Group", "Letter of the group; empty where no setting serves it, or no groups were asked for.", "text", source=_PLAN),
    *keyed_columns("key_", _PLAN),
    Column("clock_to_key", "Clock to key", "Standard time and summer-time rule to key, as the keypad has them.", "text", source=_PLAN),
    Column("programme", "Programme", "Switching programmes of its sites.", "text", source="programmes"),
    Column("key_events", "Events to key", "What its switches have to do; a shift at dusk or dawn as the sum of the setting's and the programme's.",
           "text", source="programmes"),
    Column("site_ids", "Its sites", "Names of its sites.", "text", source=_LIST),
))
