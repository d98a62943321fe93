"""The table of a change of law; no file of a run."""

from __future__ import annotations

from .column import Column, Table
from .site_columns import keyed_columns

_L, _T = "change of law", "legal time"

RULES = Table("rules", "A row a site: what a change of law means for its switch.", (
    Column("site_id", "Site", "Identification of the site.", "text", source="site list"),
    Column("name", "Name", "Name or address of the site.", "text", source="site list"),
    Column("area", "Area", "Outline in which it lies.", "text", source="outlines"),
    Column("lat_deg", "Latitude", "Latitude of the site, north positive.", "number", "degrees", 6, "site list"),
    Column("lon_deg", "Longitude", "Longitude of the site, east positive.", "number", "degrees", 6, "site list"),
    Column("group", "Group", "Letter of the setting that the site gets from the plan; empty if none serves it, or without groups.", "text", source="fewest settings"),
    Column("legal_zone", "Clock zone", "Zone of the IANA time zone database whose clock the switch keeps.", "text", source=_T),
    Column("change", "Change", "What the change of law means for the switch.", "word", source=_L, vocabulary="change of law"),
    Column("from_date", "Wrong from", "First date from which the keyed clock does not show legal time by the later law; of an older change "
           "the first day that is compared.", "date", source=_L),
    Column("right_from", "Can be keyed from", "First date from which the clock to key shows legal time: a visit between this date "
           "and the one before is in time.", "date", source=_L),
    Column("clock_off_min", "Clock off", "The keyed clock minus legal time from that date, positive when it is ahead; events at a clock time are off by as much.",
           "number", "min", 0, _L),
    Column("wrong_weeks", "Wrong if left", "Weeks of the year from that date in which the keyed clock does not show legal time if nothing is keyed.", "number",
           "weeks", 1, _L),
    Column("clock_events", "Clock-time events", "Whether the site's programme has events at a clock time; empty without programmes.", "flag", source="programmes"),
    Column("work_day", "Day of work", "Sites near each other that make a day of visits, those that go wrong first in front.", "whole", source=_L),
    Column("stop", "Stop", "Place in the driving order of that day, from 1.", "whole", source=_L),
    Column("clock_before", "Clock keyed now", "Standard time and summer-time rule that are right by the earlier law, as the keypad has them.", "text", source=_L),
    Column("key_clock", "Clock to key", "Standard time and summer-time rule to key by the later law, as the keypad has them.", "text", source=_L),
    Column("key_wrong_weeks", "Wrong when keyed", "Weeks of that year in which this clock does not show legal time either: above 0 where the "
           "keypad cannot follow the law.", "number", "weeks", 1, _L),
    *keyed_columns("key_", "plan", where=" at this site; a change of clock does not change it"),
))
