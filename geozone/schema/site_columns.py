"""The site table: what a run knows of each switch."""

from __future__ import annotations

from .column import KEYPAD, Column, Table

_LIST, _LAW, _SHARED, _FEWEST = "site list", "legal time", "shared setting", "fewest settings"
_PROGRAMME, _TIMETABLE = "programmes", "timetable"

#: What is keyed into a switch, wherever it stands in a table; `prefix` tells whose it is.
def keyed_columns(prefix: str, source: str, *, on_map: bool = False, where: str = "") -> tuple[Column, ...]:
    """Position, legal zone and offsets of a setting as columns."""
    return (
        Column(f"{prefix}lat_deg", "Latitude to key", f"Latitude to key{where}, north positive.", "number", "degrees", KEYPAD,
               source, on_map=on_map),
        Column(f"{prefix}lon_deg", "Longitude to key", f"Longitude to key{where}, east positive.", "number", "degrees", KEYPAD,
               source, on_map=on_map),
        Column(f"{prefix}legal_zone", "Clock zone to key", f"Zone of the IANA time zone database whose clock is keyed{where}.",
               "text", source=source, on_map=on_map),
        Column(f"{prefix}dusk_offset_min", "Dusk offset", f"Offset of the setting at dusk{where}, positive is later.", "whole", "min",
               source=source, on_map=on_map),
        Column(f"{prefix}dawn_offset_min", "Dawn offset", f"Offset of the setting at dawn{where}, positive is later.", "whole", "min",
               source=source, on_map=on_map),
    )


def worst_columns(whose: str, source: str, *, on_map: bool = False, site: bool = False) -> tuple[Column, ...]:
    """Worst unlit and lit-too-long minutes, each with its site, night and event."""
    found: list[Column] = []
    for side, heading, what in (("dark", "Unlit, worst", "Longest time unlit that should be lit"),
                                ("excess", "Lit too long, worst", "Longest time lit without need")):
        found.append(Column(f"worst_{side}_min", heading, f"{what}, at any one switching{whose}.", "number", "min", 2, source,
                            on_map=on_map))
        if site:
            found.append(Column(f"worst_{side}_site", f"{heading}: site", "Site at which it happens.", "text", source=source,
                                on_map=on_map))
        found.append(Column(f"worst_{side}_night", f"{heading}: night",
                            "Night in which it happens, named by the date of the evening.", "date", source=source, on_map=on_map))
        found.append(Column(f"worst_{side}_edge", f"{heading}: event", "Event of the night at which it happens.", "word",
                            source=source, vocabulary="edge", on_map=on_map))
    return tuple(found)


def share_column(source: str, whose: str = "") -> Column:
    """The worst minutes as a share of the tolerance."""
    return Column("tolerance_share", "Share of the tolerance used",
                  f"Worst minutes as a share of the tolerance, the worse of unlit and lit too long{whose}: above 1 is beyond.",
                  "number", "", 3, source)


SITES = Table("sites", "A row a site of the list that could be used.", (
    Column("site_id", "Site", "Identification of the site, as in the site list.", "text", source=_LIST, on_map=True),
    Column("name", "Name", "Name of the site, as in the site list.", "text", source=_LIST, on_map=True),
    Column("area", "Area", "Outline in which the site lies; empty outside all of them.", "text", source="outlines", on_map=True),
    Column("result", "Result", "Whether the shared setting serves the site.", "word", source=_SHARED, vocabulary="result",
           on_map=True),
    Column("group", "Group", "Group of the fewest settings that the site belongs to; empty if no setting serves it.", "text",
           source=_FEWEST, on_map=True),
    *keyed_columns("key_", _FEWEST, on_map=True, where=" at this site, its group's"),
    Column("zone", "Lighting zone", "Lighting zone in which the site lies; empty outside all zones, and where its clock is not its ground's.", "text", source="zones"),
    Column("programme", "Programme", "Switching programme that the site runs.", "text", source=_PROGRAMME, on_map=True),
    Column("programme_run", "Programme run", "Switching programme that the site runs, where the list has a column programme that says otherwise.",
           "text", source=_PROGRAMME),
    Column("key_events", "Events to key", "What the switch has to do, event by event, with the offset to key: the setting's offset and the programme's shift added.",
           "text", source=_PROGRAMME, on_map=True),
    *worst_columns(" with the shared setting", _SHARED, on_map=True),
    Column("nights_beyond", "Nights beyond", "Nights of the year beyond tolerance with the shared setting.", "whole", "nights",
           source=_SHARED, on_map=True),
    Column("dark_year_min", "Unlit in the year", "Minutes of the year unlit that should be lit, with the shared setting.",
           "number", "min", 2, _SHARED, on_map=True),
    Column("excess_year_min", "Lit too long in the year", "Minutes of the year lit without need, with the shared setting.",
           "number", "min", 2, _SHARED, on_map=True),
    share_column(_SHARED),
    Column("nights_not_judged", "Nights not judged", "Nights of the year that the rule on shallow nights leaves out at the site.", "whole", "nights",
           source=_SHARED),
    Column("dark_not_judged_min", "Unlit, not judged", "The part of the year's minutes unlit that falls on nights not judged.", "number", "min", 2,
           _SHARED),
    Column("excess_not_judged_min", "Lit too long, not judged",
           "The part of the year's minutes lit too long that falls on nights not judged.", "number", "min", 2, _SHARED),
    Column("group_dark_min", "Unlit, worst, in its group",
           "Longest time unlit at any dusk or dawn with the group's setting.", "number", "min", 2, _FEWEST, on_map=True),
    Column("group_excess_min", "Lit too long, worst, in its group",
           "Longest time lit without need at any dusk or dawn with the group's setting.", "number", "min", 2, _FEWEST, on_map=True),
    Column("proof_site", "Proof site", "True for a site that shows why fewer settings will not do.", "flag", source=_FEWEST,
           on_map=True),
    Column("programme_dark_min", "Unlit, worst, by programme",
           "Longest time of a night unlit that its programme means to be lit, with the setting to key.", "number", "min", 2,
           _PROGRAMME, on_map=True),
    Column("programme_excess_min", "Lit too long, worst, by programme",
           "Longest time of a night lit that its programme means to be unlit, with the setting to key.", "number", "min", 2,
           _PROGRAMME, on_map=True),
    Column("lit_h", "Operating hours", "Hours lit in the year with the setting to key.", "number", "h", 2, _PROGRAMME, on_map=True),
    Column("kwh", "Energy", "Electricity of the year; empty without a load.", "number", "kWh", 1, _PROGRAMME, on_map=True),
    Column("cost", "Cost", "Cost of the year's electricity by the job's tariff; empty without a load.", "number",
           "currency of the tariff", 2, _PROGRAMME, on_map=True),
    Column("dark_h", "Unlit in the year, by programme", "Hours of the year unlit that the programme means to be lit.", "number",
           "h", 2, _PROGRAMME),
    Column("excess_h", "Lit too long in the year, by programme",
           "Hours of the year lit that the programme means to be unlit.", "number", "h", 2, _PROGRAMME),
    Column("lat_deg", "Latitude", "Latitude of the site (WGS 84), north positive.", "number", "degrees", 6, _LIST, on_map=True),
    Column("lon_deg", "Longitude", "Longitude of the site (WGS 84), east positive.", "number", "degrees", 6, _LIST, on_map=True),
    Column("legal_zone", "Legal zone", "Zone of the IANA time zone database that is law at the site.", "text", source=_LAW,
           on_map=True),
    Column("legal_zone_source", "Legal zone from", "Where the legal zone comes from: boundary data or the site list.", "word",
           source=_LAW, vocabulary="zone source", on_map=True),
    Column("confirm_zone", "Confirm the zone", "True where the legal zone has to be confirmed on site.", "flag", source=_LAW,
           on_map=True),
    Column("boundary_m", "To the next zone", "Distance to the nearest boundary of another legal zone; empty where none is near.",
           "number", "m", 0, _LAW, on_map=True),
    Column("clock_rule", "Clock", "Number of the site's clock among the clocks of the run; equal clocks, equal number.", "whole",
           source=_LAW, on_map=True),
    Column("load_w", "Load", "Electrical load that the site switches; empty where not given.", "number", "W", 3, _LIST,
           on_map=True),
    Column("row", "Row of the list", "Row of the site list that the site was read from.", "whole", source=_LIST),
    Column("legal_zone_given", "Legal zone given", "Legal zone as the site list gives it; empty where it gives none.", "text",
           source=_LIST),
    Column("legal_zone_there", "Legal zone of the ground", "Legal zone whose outline in the boundary data holds the site.", "text",
           source=_LAW),
    Column("zone_across", "Next zone", "Legal zone on the other side of the nearest boundary.", "text", source=_LAW),
    Column("timetable_dark_min", "Unlit, worst, by the timetable",
           "Longest time of a night unlit that should be lit, with the dated timetable.", "number", "min", 2, _TIMETABLE),
    Column("timetable_excess_min", "Lit too long, worst, by the timetable",
           "Longest time of a night lit without need, with the dated timetable.", "number", "min", 2, _TIMETABLE),
    Column("tz_database", "Time zone database", "Release of the IANA time zone database that the times rest on.", "text",
           source=_LAW),
))
