"""What the form calls sections and keys, in the trade's words; all else about them is said once, in the job's own models."""

from __future__ import annotations

#: Section (with dots) to its heading, in the order of the form: what a planner knows first comes first.
SECTIONS = {
    "job": "The plan",
    "dark": "When it counts as dark",
    "tolerance": "Tolerance",
    "keypad": "What the time switches can hold",
    "keypad.saving_rule": "Summer-time rule of your own",
    "shared": "The shared setting of today",
    "groups": "Groups: the fewest settings for the sites",
    "zones": "Zones: the fewest settings for the ground",
    "programmes": "Columns about programmes",
    "programme": "Switching programme",
    "programme.event": "Event",
    "holidays": "Holidays",
    "tariff": "Tariff",
    "tariff.band": "Price at some hours",
    "timetable": "Timetable for switches that know no sun",
    "sheet": "Sheet for the tender document",
    "sheet.revisions": "Row of the revision table",
    "cards": "Cards for the crew",
    "audit": "Audit of the switches",
    "columns": "Columns of the site list",
    "reading": "How the site list is written",
    "writing": "How result tables are written",
}

#: Key (with dots) to its label.
KEYS = {
    "job.title": "Title", "job.year": "Year", "job.years": "Years to hold for",
    "job.sites": "Site list", "job.areas": "Outlines", "job.area_names": "Column with the outlines' names",
    "job.areas_without_sites": "Outlines without a site count too", "job.backdrop": "Background", "job.crs": "Coordinate system of the list",
    "columns.site_id": "Number of the site", "columns.name": "Name", "columns.lat": "Latitude, or north", "columns.lon": "Longitude, or east",
    "columns.position": "Position in one column", "columns.legal_zone": "Legal zone", "columns.load_w": "Connected load",
    "reading.encoding": "Encoding", "reading.separator": "Separator", "reading.decimal": "Decimal sign", "reading.layer": "Sheet or layer",
    "writing.csv": "Manner of CSV files", "writing.separator": "Separator", "writing.decimal": "Decimal sign", "writing.encoding": "Encoding",
    "dark.altitude_deg": "Altitude of the sun", "dark.twilight": "Twilight", "dark.illuminance_lx": "Daylight",
    "tolerance.dark_min": "Unlit at most", "tolerance.excess_min": "Lit too long at most", "tolerance.shallow_deg": "Shallow nights left out",
    "keypad.coordinate_step_deg": "Step of latitude and longitude", "keypad.offset_limit_min": "Largest offset", "keypad.event_limit": "Events in a programme at most",
    "keypad.display_offsets": "Offsets in the dusk and dawn shown", "keypad.display_dawn": "Dawn shown", "keypad.display_error_min": "Error of the switch's own sun",
    "keypad.display_hours": "Hours shown", "keypad.utc_offsets": "Standard times that can be keyed", "keypad.daylight_saving": "Summer-time rules that can be keyed",
    "keypad.saving_rule.name": "Name", "keypad.saving_rule.saving_min": "Put forward by",
    "keypad.saving_rule.start": "Put forward", "keypad.saving_rule.end": "Put back",
    "shared.lat_deg": "Latitude", "shared.lon_deg": "Longitude", "shared.legal_zone": "Legal zone", "shared.dusk_offset_min": "Offset at dusk",
    "shared.dawn_offset_min": "Offset at dawn", "shared.clock": "Whose clock",
    "groups.offsets": "Offsets may be keyed", "groups.keep_together": "Keep together", "groups.existing": "Groups of today", "groups.within": "No group across",
    "groups.curve_to": "Curve up to", "groups.time_limit_s": "Time limit", "zones.by": "Made of", "zones.along": "Lines for borders",
    "zones.compare": "Other kinds counted too", "zones.time_limit_s": "Time limit",
    "programmes.column": "Column with the programme", "programmes.lit_area_m2": "Column with the lit area",
    "programme.name": "Name", "programme.night_rule": "Days mean", "programme.areas": "Areas that run it",
    "programme.event.turn": "Turn", "programme.event.at": "At", "programme.event.shift_min": "Shift", "programme.event.days": "Days", "programme.event.season": "Season",
    "holidays.dates": "Dates", "holidays.counts_as": "Count as",
    "tariff.per_kwh": "Price of a kilowatt-hour", "tariff.currency": "Currency", "tariff.band.name": "Name", "tariff.band.per_kwh": "Price of a kilowatt-hour",
    "tariff.band.from": "From", "tariff.band.to": "To", "tariff.band.days": "Days", "timetable.period": "A line holds for a", "timetable.rounding_min": "Rounded to",
    "sheet.size": "Paper", "sheet.orientation": "Orientation", "sheet.scale": "Scale 1 to", "sheet.crs": "Coordinate system", "sheet.language": "Language",
    "sheet.per": "A sheet for each", "sheet.title": "Title", "sheet.supplement": "Second line", "sheet.owner": "Legal owner", "sheet.department": "Department",
    "sheet.reference": "Technical reference", "sheet.document_type": "Kind of document", "sheet.status": "Status", "sheet.number": "Number",
    "sheet.revision": "Revision", "sheet.creator": "Drawn by", "sheet.approver": "Approved by", "sheet.date": "Date of issue",
    "sheet.revisions.index": "Revision", "sheet.revisions.what": "Change", "sheet.revisions.date": "Date", "sheet.revisions.by": "By",
    "cards.size": "Paper", "cards.language": "Language", "cards.first_day": "First day of the visit",
    "audit.found": "As-found list",
}

#: Key of a table on one line to its label.
PARTS = {"month": "month", "nth": "which of the month", "weekday": "weekday", "at": "clock time", "by": "on the clock", "from": "first day", "to": "last day"}

#: End of a key's name to the unit of its value.
UNITS = {"_deg": "degrees", "_min": "min", "_lx": "lux", "_s": "seconds"}

#: Words of the job file to what the form shows beside them; all others are shown as they are.
OPTIONS = {"own": "own: every switch its own", "master": "master: one commands all", "area": "area: whole outlines", "free": "free: any ground one setting serves",
           "grid": "grid: rectangles between meridians and parallels", "lines": "lines: pieces between outlines and lines",
           "utf-8-sig": "utf-8-sig: UTF-8 with its mark", "utf-8": "utf-8: without the mark", ".": ". decimal point", ",": ", decimal comma",
           "mon": "Monday", "tue": "Tuesday", "wed": "Wednesday", "thu": "Thursday", "fri": "Friday", "sat": "Saturday", "sun": "Sunday", "true": "yes", "false": "no",
           "-1": "last", "night": "night: the night that began the evening before", "date": "date: the civil date"}

#: A section that may be left out to what leaving it out means.
WITHOUT = {"groups": "Not asked for: no fewest settings are looked for.", "zones": "Not asked for: the ground is not divided.",
           "programmes": "No column of the list says which programme a site runs.", "holidays": "No date counts as another weekday.",
           "tariff": "No price: hours and energy only.", "timetable": "No clock times for switches that know no sun."}

#: What more there is to say of a section.
HINTS = {"dark": "Exactly one of the three is said; the other two stay empty.",
         "shared": "With latitude, longitude and legal zone all empty geozone finds the best setting by itself.",
         "programme": "Events are obeyed in the order in which they happen in a night.",
         "zones": "A file of lines comes into the plan as its background; its name is typed here as well.",
         "audit": "What was read at the switches comes into the plan as a file; the run itself does not look at it.",
         "sheet": "What is empty stays an empty box of the title block."}
