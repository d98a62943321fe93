"""Tables of switching programmes."""

from __future__ import annotations

from .column import Column, Table

_P = "programmes"

_HOURS = (
    Column("lit_h", "Operating hours", "Hours lit in the year at one site.", "number", "h", 2, _P, on_map=True),
    Column("site_h", "Operating hours, all sites", "Hours lit in the year, all sites added.", "number", "h", 2, _P),
    Column("sites_with_load", "Sites with a load", "Sites whose load is known.", "whole", source=_P, on_map=True),
    Column("kwh", "Energy", "Electricity of the year, of the sites with a load.", "number", "kWh", 1, _P, on_map=True),
    Column("cost", "Cost", "Cost of the year's electricity by the job's tariff.", "number", "currency of the tariff", 2, _P, on_map=True),
    Column("dark_h", "Unlit", "Hours of the year unlit that are meant to be lit, all sites added.", "number", "h", 2, _P, on_map=True),
    Column("excess_h", "Lit too long", "Hours of the year lit that are meant to be unlit, all sites added.", "number", "h", 2, _P,
           on_map=True),
)
_MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December")

HOURS = Table("hours", "A row a programme, group, both together, or site.", (
    Column("level", "Row is", "What the row adds up.", "word", source=_P, vocabulary="level"),
    Column("programme", "Programme", "Switching programme; empty where the row is for all.", "text", source=_P),
    Column("group", "Group", "Group whose setting is keyed; empty where the row is for all.", "text", source=_P),
    Column("site_id", "Site", "Site; empty where the row adds several.", "text", source=_P),
    Column("sites", "Sites", "Sites in the row.", "whole", source=_P),
    *_HOURS,
    *(Column(f"lit_{place:02d}_h", f"Hours in {name}", f"Hours lit in {name} at one site.", "number", "h", 2, _P)
      for place, name in enumerate(_MONTHS, 1)),
    Column("kwh_per_m2", "Energy per lit area", "Electricity of the year over the lit area, of the sites that have both.", "number",
           "kWh/m2", 3, _P),
))
_MEAN_PRICE = Column("mean_price", "Mean price", "Cost over energy: the mean price of a kilowatt-hour by the job's tariff.", "number",
                     "currency of the tariff", 4, _P, on_map=True)
COMPARISON = Table("comparison", "A row a way to set the switches.", (
    Column("way", "Way", "How the switches are set.", "word", source=_P, vocabulary="way", on_map=True), *_HOURS, _MEAN_PRICE,
    Column("worst_dark_min", "Unlit, worst", "Longest time of a night unlit that is meant to be lit, at any site.", "number", "min", 2,
           _P, on_map=True),
    Column("worst_excess_min", "Lit too long, worst", "Longest time of a night lit that is meant to be unlit, at any site.", "number",
           "min", 2, _P, on_map=True),
    Column("sites_beyond", "Sites beyond", "Sites beyond tolerance.", "whole", source=_P, on_map=True),
))
CLOCKS = Table("clocks", "A row a legal clock: what to key for it.", (
    Column("clock", "Clock", "Legal clock in words.", "text", source="legal time", on_map=True),
    Column("sites", "Sites", "Sites with that clock.", "whole", source="legal time", on_map=True),
    Column("keyed", "To key", "Standard time and summer-time rule to key, as the keypad has them.", "text", source="legal time",
           on_map=True),
    Column("exact", "Right all year", "True if the keyed clock shows legal time all year.", "flag", source="legal time", on_map=True),
    Column("wrong_weeks", "Weeks wrong", "Weeks of the year in which the keyed clock is wrong.", "number", "weeks", 1, "legal time",
           on_map=True),
    Column("wrong", "Wrong when", "When it is wrong, and by how much.", "text", source="legal time", on_map=True),
    Column("dark_h", "Unlit", "Hours of the year unlit because of it, all sites added.", "number", "h", 2, _P, on_map=True),
    Column("excess_h", "Lit too long", "Hours of the year lit too long because of it, all sites added.", "number", "h", 2, _P, on_map=True),
))
FAULTY = Table("faulty", "A row an event of a programme and a kind of night on which it does what nobody means.", (
    Column("programme", "Programme", "Switching programme.", "text", source=_P, on_map=True),
    Column("kind", "Kind", "What goes wrong.", "word", source=_P, vocabulary="faulty night", on_map=True),
    Column("event", "Event", "Event of the programme.", "text", source=_P),
    Column("what", "What happens", "What happens, in one sentence.", "text", source=_P, on_map=True),
    Column("place", "Place of the event", "Place of the event in the programme, counted from 1.", "whole", source=_P),
    Column("switch", "Where", "Group or site whose switches do it.", "text", source=_P, on_map=True),
    Column("sites", "Sites", "Sites at which it happens.", "whole", source=_P, on_map=True),
    Column("nights", "Nights", "Nights of the year.", "whole", "nights", source=_P, on_map=True),
    Column("first", "First", "First such night.", "date", source=_P),
    Column("last", "Last", "Last such night.", "date", source=_P),
    Column("hours", "Hours, one switch", "Hours of the year of wrong light at one switch.", "number", "h", 2, _P, on_map=True),
    Column("site_hours", "Hours, all sites", "Hours of the year of wrong light, all sites added.", "number", "h", 2, _P, on_map=True),
    Column("counted_site_h", "Hours to add up", "The part of these hours that no earlier row has: this column can be added up.", "number",
           "h",
           2, _P),
))
TIMETABLE = Table("timetable", "A row a switching of a period, for switches that know no sun.", (
    Column("group", "Group", "Group, or site, that it is for.", "text", source="timetable"),
    Column("programme", "Programme", "Switching programme.", "text", source="timetable"),
    Column("from", "From", "First date of the period.", "date", source="timetable"),
    Column("to", "To", "Last date of the period.", "date", source="timetable"),
    Column("turn", "Turn", "On or off.", "word", source="timetable", vocabulary="turn"),
    Column("at", "At", "Clock time.", "text", source="timetable"),
    Column("days", "Days", "Days of the calendar's week.", "text", source="timetable"),
    Column("except", "Except", "Dates of the period on which the row does not hold.", "text", source="timetable"),
    Column("also", "Also", "Further dates of the period on which the row holds.", "text", source="timetable"),
    Column("season", "Season", "Dates between which the event holds; empty for all of them.", "text", source="timetable"),
    Column("stands_for", "Stands for", "Event of the programme that the time stands for.", "text", source="timetable"),
    Column("dark_within_tolerance", "Unlit within tolerance", "True if unlit minutes keep to the tolerance in the period.", "flag",
           source="timetable"),
    Column("remark", "Remark", "What else there is to know.", "text", source="timetable"),
))
