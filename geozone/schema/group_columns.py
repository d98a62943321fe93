"""Tables of the fewest settings."""

from __future__ import annotations

from .column import Column, Table
from .site_columns import keyed_columns, share_column, worst_columns

_FEWEST = "fewest settings"

_WORST = tuple(column for column in worst_columns(" at any of its sites", _FEWEST, on_map=True, site=True))
_MINUTES = tuple(column for column in _WORST if column.name.endswith("_min"))

GROUPS = Table("groups", "A row a group: what is keyed into its switches.", (
    Column("group", "Group", "Letter of the group.", "text", source=_FEWEST, on_map=True),
    Column("sites", "Sites", "Sites in the group.", "whole", source=_FEWEST, on_map=True),
    *keyed_columns("", _FEWEST, on_map=True),
    Column("clock", "Clock", "Legal clock of its sites in words.", "text", source="legal time", on_map=True),
    Column("clock_to_key", "Clock to key", "Standard time and summer-time rule to key, as the keypad has them.", "text",
           source="legal time", on_map=True),
    Column("key_events", "Events to key", "What its switches have to do, programme by programme, with the offset to key: setting and programme added.",
           "text", source="programmes", on_map=True),
    Column("within", "Within", "District or other outline that the group does not leave; empty where none was asked for.", "text",
           source=_FEWEST, on_map=True),
    *_WORST,
    share_column(_FEWEST, ", at any of its sites"),
    Column("load_w", "Load", "Electrical load of its sites as far as given.", "number", "W", 3, "site list"),
    Column("shared_spots", "Shared positions", "Positions at which sites of another group stand as well.", "whole", source=_FEWEST),
))
CURVE = Table("curve", "A row a number of settings: how small the worst minutes can be.", (
    Column("settings", "Settings", "Number of settings.", "whole", source=_FEWEST, on_map=True),
    Column("worst_min", "Worst", "Worst minutes at any site, unlit or lit too long, whichever is more.", "number", "min", 2, _FEWEST,
           on_map=True),
    *(Column(c.name, c.heading, c.sentence.replace("any of its sites", "any site"), c.kind, c.unit, c.decimals, c.source,
             c.vocabulary, c.on_map) for c in _MINUTES),
    share_column(_FEWEST, ", at any site"),
    Column("at_least_share", "At least this share", "Share of the tolerance that so many settings cannot be better than, whichever they are.", "number", "", 3, _FEWEST),
    Column("proved", "Proved", "True if no choice of so many settings does better.", "flag", source=_FEWEST, on_map=True),
))
EXISTING = Table("existing", "A row a group of today and clock: whether one setting serves it.", (
    Column("existing", "Group of today", "Name of the group of today.", "text", source="site list", on_map=True),
    Column("clock", "Clock", "Legal clock of its sites in words.", "text", source="legal time", on_map=True),
    Column("sites", "Sites", "Its sites with that clock.", "whole", source="site list", on_map=True),
    Column("served", "Served", "True if one setting serves all of them.", "flag", source=_FEWEST, on_map=True),
    Column("settings_needed", "Settings needed", "Settings that it takes.", "whole", source=_FEWEST, on_map=True),
    *keyed_columns("", _FEWEST), *_MINUTES, share_column(_FEWEST, ", at any of its sites"),
))
UNSERVED = Table("unserved", "A row a site, or sites that must share a setting, which no setting serves.", (
    Column("unit", "Site or unit", "Site, or what its sites must share a setting by.", "text", source=_FEWEST, on_map=True),
    Column("sites", "Sites", "Sites in it.", "whole", source=_FEWEST, on_map=True),
    Column("dark_min", "Unlit allowed", "Smallest tolerance of unlit minutes that would do.", "number", "min", 2, _FEWEST, on_map=True),
    Column("excess_min", "Lit too long allowed", "Smallest tolerance of minutes lit too long that would do.", "number", "min", 2, _FEWEST,
           on_map=True),
    share_column(_FEWEST), *keyed_columns("", _FEWEST),
    Column("proved", "Proved", "True if no setting of the keypad serves it; false where none was found.", "flag", source=_FEWEST),
))
CABINETS = Table("cabinets", "A row a cabinet, or a site without one: what its switches are told.", (
    Column("cabinet", "Cabinet", "Name of the cabinet; empty for a site without one.", "text", source="site list", on_map=True),
    Column("sites", "Sites", "Sites of the cabinet.", "whole", source="site list"),
    Column("lat_deg", "Latitude", "Latitude of the middle of its sites, north positive.", "number", "degrees", 6, "site list"),
    Column("lon_deg", "Longitude", "Longitude of the middle of its sites, east positive.", "number", "degrees", 6, "site list"),
    Column("farthest_m", "Farthest site", "How far the farthest of its sites is from that middle.", "number", "m", 0, "site list"),
    Column("group", "Group", "Group of the fewest settings; empty if no setting serves it.", "text", source=_FEWEST),
    *keyed_columns("key_", _FEWEST, where=" in this cabinet"),
    Column("clock", "Clock", "Legal clock in words.", "text", source="legal time"),
    Column("clock_to_key", "Clock to key", "Standard time and summer-time rule to key, as the keypad has them.", "text",
           source="legal time"),
    Column("programme", "Programmes", "Switching programmes of its sites.", "text", source="programmes"),
    Column("load_w", "Load", "Electrical load of its sites as far as given.", "number", "W", 3, "site list"),
    Column("area", "Areas", "Outlines in which its sites lie.", "text", source="outlines"),
    Column("site_ids", "Its sites", "Identification of its sites.", "text", source="site list"),
))
CREW = Table("crew", "A row a cabinet, or a site without one, in driving order: what its card says to key. Sites that no setting serves have none. "
             "Where one master switch commands all sites, it alone has a row for each card. In English, as every table, whatever language the cards are in.", (
    Column("drive", "Drive", "Place in driving order: area by area, then always on to the nearest; not the shortest tour. For a master switch: number of its card.",
           "whole", source="site list"),
    Column("master", "Master switch", "That one switch commands these sites and is the only one to key; no such column where every site or cabinet is keyed.",
           "text", source="card"),
    Column("cabinet", "Cabinet", "Name of the cabinet, or master switch; empty for a site without one. With programmes of different shifts it has a row for each card.",
           "text", source="site list"),
    Column("sites", "Sites", "Sites that this row is for.", "whole", source="site list"),
    Column("lat_deg", "Latitude",
           "Latitude of the middle of its sites, north positive: where to drive, not what to key. Empty for a master switch: its place is not in the list.",
           "number", "degrees", 6, "site list"),
    Column("lon_deg", "Longitude", "Longitude of the middle of its sites, east positive: where to drive, not what to key. Empty for a master switch.",
           "number", "degrees", 6, "site list"),
    Column("area", "Areas", "Outlines in which its sites lie.", "text", source="outlines"),
    Column("group", "Group", "Group of the fewest settings, and so its card; empty for the one shared setting.", "text", source=_FEWEST),
    Column("key_position", "Position to key", "Latitude and longitude to key, with the keypad's decimals.", "text", source="card"),
    Column("key_degrees_minutes", "In degrees and minutes", "The same in degrees and minutes.", "text", source="card"),
    Column("key_digits", "Digits", "The same on a keypad without a point.", "text", source="card"),
    Column("key_standard_time", "Standard time to key", "Standard time of the clock to key.", "text", source="card"),
    Column("key_summer_time", "Summer time to key", "Summer-time rule of the clock to key, and the legal zone.", "text", source="card"),
    Column("key_clock_off", "Clock off", "When that clock does not show legal time; empty: it always does.", "text", source="card"),
    Column("key_dusk", "Offset at dusk", "Correction of dusk to key, that of the programme added.", "text", source="card"),
    Column("key_dawn", "Offset at dawn", "Correction of dawn to key, that of the programme added.", "text", source="card"),
    Column("programme", "Programmes", "Switching programmes of its sites.", "text", source="programmes"),
    Column("key_events", "Events to key", "What the switch has to do; minutes at dusk and dawn already hold the offsets: key each shift once.", "text", source="card"),
    Column("site_ids", "Its sites", "Identification of its sites.", "text", source="site list"),
))
