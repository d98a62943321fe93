"""Tables of the audit of switches out there; no files of a run."""

from __future__ import annotations

from .column import Column, Table
from .cost_columns import COSTS
from .site_columns import keyed_columns

_A = "audit"
_SITE = Column("site_id", "Site", "Identification of the site.", "text", source="site list")
_NAME = Column("name", "Name", "Name or address of the site.", "text", source="site list")
_DIAGNOSIS = Column("diagnosis", "What can have happened", "Single slips that explain all that was read, the likeliest first; pairs where no single one does.", "text",
                    source=_A)
_NEXT = Column("next_reading", "Read next", "The one further reading that tells most of them apart; empty where none is needed or none tells.", "text", source=_A)
_DARK = Column("dark_h", "Unlit", "Hours of the year unlit that should be lit, from dusk to dawn, if the first explanation holds, or the right "
               "setting where the reading agrees.", "number", "h", 1, _A)
_DARK_MOST = Column("dark_most_h", "Unlit, at most",
                    "The most such hours of the single slips that fit, of pairs where none does; the twelve likeliest.", "number", "h", 1, _A)
_EXCESS = Column("excess_h", "Lit too long", "Hours of the year lit without need, reckoned like the unlit ones.", "number", "h", 1, _A)
_WASTE = Column("waste_kwh", "Wasted energy", "Electricity of these hours, where the load is known.", "number", "kWh", 0, _A)
_RESULT = Column("result", "Result", "What the switch delivers over the year, held against the tolerance.", "word", source=_A, vocabulary="audit result")

AUDIT = Table("audit", "A row a site: what its switch can have keyed in, and what it delivers.", (
    _SITE, _NAME,
    Column("found_row", "Row", "Row of the as-found list, the last one where there are several; empty where there is none.", "whole", source="as-found list"),
    Column("read_on", "Read on", "Date of the reading.", "date", source="as-found list"),
    Column("log", "Log", "What the log of on and off times alone says; empty where there is none.", "word", source="log", vocabulary="log state"),
    Column("log_nights", "Nights in the log", "Nights of which a switching at dusk or dawn counts.", "whole", source="log"),
    Column("reading", "Reading", "How what was read, or logged, compares with the right setting; of both what both leave possible.", "word", source=_A,
           vocabulary="reading state"),
    _RESULT, _DIAGNOSIS,
    Column("alternatives", "Explanations",
           "How many explanations fit all that was read, single slips and pairs; 0 where the right setting fits or none does.", "whole", source=_A),
    Column("fits_as_well", "Fits as well", "Slips that this reading cannot tell from the right setting, each with the next date on which the display shows it.", "text",
           source=_A),
    Column("clock_checked", "Clock checked", "Whether the switch's clock was held against the true time; dusk and dawn on a display never show its error.", "flag",
           source="as-found list"),
    _NEXT,
    Column("worst_dark_min", "Unlit, worst", "Longest time unlit at one switching, reckoned like the hours.", "number", "min", 1, _A),
    Column("worst_excess_min", "Lit too long, worst", "Longest time lit without need at one switching, reckoned like the hours.", "number", "min", 1, _A),
    _DARK, Column("dark_least_h", "Unlit, at least",
           "The fewest such hours of the single slips that fit, of pairs where none does; the twelve likeliest.", "number", "h", 1, _A),
    _DARK_MOST, _EXCESS, _WASTE,
    *COSTS,
))
WORK = Table("work", "A row a site to visit: the most unlit hours first, then the most energy wasted.", (
    Column("rank", "Rank", "Place in the order of harm: 1 has the most unlit hours a year.", "whole", source=_A),
    Column("work_day", "Day of work", "Sites near each other that make a day: day 1 begins with the first of the list.", "whole", source=_A),
    Column("stop", "Stop", "Place in the driving order of that day, from 1.", "whole", source=_A),
    _SITE, _NAME,
    Column("area", "Area", "Outline in which it lies.", "text", source="outlines"),
    Column("lat_deg", "Latitude", "Latitude of the site, north positive.", "number", "degrees", 6, "site list"),
    Column("lon_deg", "Longitude", "Longitude of the site, east positive.", "number", "degrees", 6, "site list"),
    _RESULT, _DARK, _DARK_MOST, _EXCESS, _WASTE, _DIAGNOSIS, _NEXT,
    Column("mend", "What to do", "What mends each explanation that is named.", "text", source=_A),
    *keyed_columns("key_", _A, where=" at this site"),
    Column("key_clock", "Clock to key", "Standard time and summer-time rule to key, as the keypad has them.", "text", source="legal time"),
))
WATCH = Table("watch", "A row a switch that reads right today, and a date on which it will not if a slip was made that cannot be seen yet.", (
    _SITE, _NAME,
    Column("from_date", "From", "Next date on which the display, or the clock, would show it.", "date", source=_A),
    Column("reason", "Reason", "Why to look then.", "word", source=_A, vocabulary="watch reason"),
    Column("what", "What", "Slips that show from that date, or how the clock then differs from legal time.", "text", source=_A),
))
LOGS = Table("logs", "A row a site in the log: what its nights say.", (
    _SITE, _NAME,
    Column("log", "Log", "What the log alone says.", "word", source="log", vocabulary="log state"),
    Column("nights", "Nights", "Nights of which a switching at dusk or dawn counts.", "whole", source="log"),
    Column("switchings", "Switchings", "Switchings at dusk and dawn that count.", "whole", source="log"),
    Column("unused", "Not used", "Switchings that belong to no event of the programme, or are the second for one.", "whole", source="log"),
    Column("first_night", "First night", "Date of the first of these nights.", "date", source="log"),
    Column("last_night", "Last night", "Date of the last of them.", "date", source="log"),
    Column("gap_nights", "Longest gap", "Longest run of nights in between without any switching.", "whole", source="log"),
    Column("scatter_min", "Scatter", "Standard deviation of the times about what fits them best.", "number", "min", 1, _A),
    Column("pattern", "In which way", "In which way dusk and dawn are off; of two ways that fit both are said.", "text", source=_A),
    Column("sum_min", "Both later", "How much later dusk and dawn are than planned, the same way; earlier is negative.", "number", "min", 1, _A),
    Column("opposite_min", "Opposite", "How much later dusk is, and earlier dawn, beside the latitude that fits best; with the latitude it is one thing near a solstice.",
           "number", "min", 1, _A),
    Column("lat_deg", "Latitude", "Latitude that the switch goes by if its offsets are as planned; only where all that fits lies within half a degree.", "number",
           "degrees", 1, _A),
    Column("lat_ranges", "Latitudes", "All latitudes that fit if the offsets are as planned [degrees]; made to hold the right one in 999 of 1,000.", "text", source=_A),
    Column("free_lat_deg", "Latitude, any offsets", "The same where the offsets may be wrong.", "number", "degrees", 1, _A),
    Column("free_lat_ranges", "Latitudes, any offsets", "All latitudes that fit where the offsets may be wrong [degrees].", "text", source=_A),
    Column("clock_fast_min", "Clock fast", "What the clock is ahead, by events at clock times; empty where the programme or the log has none.", "number", "min", 1, _A),
    Column("clock_steps", "Clock put right", "Days from which on all times are earlier or later at once, as when a clock is set.", "text", source=_A),
    Column("possibilities", "Possibilities", "How many slips, or pairs where no single one does, the log alone leaves possible; 0 where it agrees or none fits.", "whole",
           source=_A),
    Column("possible", "What is possible", "The likeliest of them, or what it is instead.", "text", source=_A),
))
