"""The sections of a job file about sites, switches and paper; each key with its type, default and sentence."""

from __future__ import annotations

import re
from typing import Any, Literal

from pydantic import field_validator, model_validator

from ..nearnames import did_you_mean
from ..numbers.almanac import LAST_YEAR
from ..numbers.daylight import THRESHOLDS
from ..places.delimited import SEPARATORS, separator_meant
from ..trade.keypad import FINEST_STEP_DEG, MOST_EVENTS
from ..trade.setting import MOST_SHALLOW_DEG, MOST_TOLERANCE_MIN
from ..trade.switchclock import SAVING_RULES
from .keys import Number, Refusal, Section, Switch, Text, Whole, key, table
from .programme_models import ClockChange

# Settings stay keyed for about as long as a switch lasts; every year of nights takes its share of time and memory.
MOST_YEARS = 20


class JobSection(Section):
    """[job]: what the plan is for, and the files it reads, relative to the job file."""

    title: Text = key("what the plan is for, in the head of every page", example="Three hamlets, one setting")
    year: Whole = key("dusk, dawn and clock changes of this year", example=2027, ge=1972, le=2098)
    years: Whole = key("groups and zones are to hold for so many years from that one on", 1, example=10, ge=1, le=MOST_YEARS)
    sites: Text | None = key("file with the site list; left out: a point inside each outline stands in", None, example="sites.csv")
    areas: str | None = key("file with the outlines of districts", None, example="areas.geojson")
    area_names: str | None = key("column with the outlines' names; left out: guessed", None, example="area")
    areas_without_sites: Switch = key("whether outlines that hold no site belong to the service area", False)
    backdrop: str | None = key("file with lines or outlines drawn grey under the map", None, example="roads.gpkg")
    crs: str | None = key("coordinate system of projected positions in the site list", None, example="EPSG:7854")

    @model_validator(mode="after")
    def _within_the_theory(self):
        if self.year + self.years - 1 > LAST_YEAR:
            raise Refusal("job.years reaches beyond what can be computed", at=("job", "years"), rule=f"the last year is {LAST_YEAR} (end of the Earth theory)",
                          next_step=f"years = {LAST_YEAR - self.year + 1} at most")
        return self

    @model_validator(mode="after")
    def _somewhere(self):
        if self.sites is None and not self.areas:
            raise Refusal("job.sites is missing", rule="the file with the site list, or outlines alone, which then have a stand-in point each",
                          next_step='add it to [job]: sites = "sites.csv"; without a list yet: areas = "areas.geojson"')
        return self


class ColumnsSection(Section):
    """[columns]: which column of the site list holds what; what is left out is guessed and the guess is printed."""

    site_id: str | None = key("column with the number or name of the switch, each one once", None, example="site_id")
    name: str | None = key("column with the street or place, for people", None, example="name")
    lat: str | None = key("column with the latitude, or north in metres", None, example="lat")
    lon: str | None = key("column with the longitude, or east in metres", None, example="lon")
    position: str | None = key("column that holds latitude and longitude together", None, example="position")
    legal_zone: str | None = key("column with the legal zone where a site keeps another time than the map says", None, example="legal_zone")
    load_w: str | None = key("column with the connected load in watt", None, example="load_w")


class ReadingSection(Section):
    """[reading]: how the site list is written, where geozone should not find it out."""

    encoding: str | None = key("encoding of a text file; left out: found out", None, example="cp1252")
    separator: str | None = key("what stands between the cells of a text file; left out: found out", None, example=";")
    decimal: Literal[".", ","] | None = key("decimal point or comma; left out: found out", None, example=",")
    layer: str | None = key("sheet of a workbook, layer of a map file, or file in an archive", None, example="switches")


class WritingSection(Section):
    """[writing]: how the CSV files of the output folder are written."""

    csv: Literal["plain", "as the list"] = key("plain: comma and decimal point; as the list: separator and decimal sign of the site list, where it "
                                               "is a text file", "plain")
    separator: str | None = key("what stands between the cells, whatever csv says", None, example=";")
    decimal: Literal[".", ","] | None = key("decimal point or comma, whatever csv says", None, example=",")
    encoding: Literal["utf-8-sig", "utf-8"] = key("utf-8-sig: with the mark by which spreadsheet programs know UTF-8; utf-8: without it", "utf-8-sig")

    @model_validator(mode="after")
    def _readable(self):
        if self.separator is not None and separator_meant(self.separator) not in SEPARATORS:
            raise Refusal("the separator cannot be used", at=("separator",), value=self.separator,
                          rule='one of ";", ",", "|" and "tab"', next_step='for example separator = ";"')
        if self.csv == "plain" and self.decimal == "," and separator_meant(self.separator or ",") == ",":
            raise Refusal("the comma cannot be both decimal sign and separator", at=("decimal",), value=self.decimal,
                          rule="a separator other than the decimal sign", next_step='add separator = ";"')
        return self


class DarkSection(Section):
    """[dark]: the dark threshold, one of three."""

    altitude_deg: Number | None = key("altitude of the sun's centre below which light is needed, in degrees", None, example=-4.0, ge=-30, le=20)
    twilight: Literal["sunset", "civil", "nautical"] | None = key("the end of a twilight", None, example="civil")
    illuminance_lx: Number | None = key("daylight in lux under a clear sky below which light is needed", None, example=20, gt=0)

    @model_validator(mode="after")
    def _one_of_three(self):
        given = self._kinds()
        if len(given) != 1:
            raise Refusal("the dark threshold is not told", value=", ".join(given) or "none",
                          rule=f"give exactly one of {', '.join(THRESHOLDS)}",
                          next_step="keep one of them" if given else "for example altitude_deg = -4.0")
        return self

    def _kinds(self) -> list[str]:
        return [name for name in THRESHOLDS if getattr(self, name) is not None]

    @property
    def given(self) -> tuple[str, Any]:
        """The kind of threshold and its value."""
        (kind,) = self._kinds()
        return kind, getattr(self, kind)


class ToleranceSection(Section):
    """[tolerance]: the largest dark and the largest excess minutes at any one switching, and which nights are judged."""

    dark_min: Number = key("how long lamps may be off although light is needed, in minutes", 5.0, gt=0, le=MOST_TOLERANCE_MIN)
    excess_min: Number = key("how long lamps may be on although no light is needed, in minutes", 10.0, gt=0, le=MOST_TOLERANCE_MIN)
    shallow_deg: Number = key("nights on which the sun passes the threshold by less than this many degrees are not judged; 0: all are",
                              0.0, ge=0, le=MOST_SHALLOW_DEG)


class SavingSection(Section):
    """[[keypad.saving_rule]]: a summer-time rule of your own."""

    name: Text = key("what the rule is called", example="south coast")
    start: ClockChange = table("when the clock is put forward")
    end: ClockChange = table("when it is put back")
    saving_min: Whole = key("how far it is put forward, in minutes", 60, ge=1, le=180)


class KeypadSection(Section):
    """[keypad]: what the time switches can hold."""

    coordinate_step_deg: Number = key("smallest step of latitude and longitude, in degrees", 0.1, ge=FINEST_STEP_DEG, le=5)
    offset_limit_min: Whole = key("largest shift of dusk and dawn, in whole minutes", 99, ge=0, le=720)
    event_limit: Whole | None = key("how many events a programme may have; left out: any number", None, example=8, ge=1, le=MOST_EVENTS)
    display_offsets: Literal["included", "left out", "unknown"] = key("whether the display's dusk and dawn include the offsets", "unknown")
    display_dawn: Literal["morning", "coming", "unknown"] = key("whose dawn the display shows: of the date shown, or the coming one", "unknown")
    display_error_min: Number = key("how far the switch's own sun may be off, in minutes", 1.0, ge=0, le=30)
    display_hours: Literal[12, 24] = key("how the display counts the hours", 24)
    utc_offsets: list[Any] | None = key("the standard times that can be keyed; left out: all", None, example=["+09:30", "+10:00"])
    daylight_saving: list[Any] | None = key("names of the summer-time rules that can be keyed; left out: all", None,
                                            example=["none", "southern australia"])
    saving_rule: list[SavingSection] = table("rules of your own", [])

    @field_validator("utc_offsets")
    @classmethod
    def _offsets(cls, values):
        for i, value in enumerate(values or ()):
            if offset_minutes(value) is None:
                raise Refusal("an offset from UTC cannot be used", at=(i,), value=value,
                              rule='texts such as "+09:30", at most 14 hours', next_step='for example utc_offsets = ["+09:30"]')
        if values == []:
            raise Refusal("the keypad offers no clock", value="[]", rule="at least one offset from UTC",
                          next_step="leave the key out for all of them")
        return values

    @model_validator(mode="after")
    def _rules(self):
        known = [*SAVING_RULES, *(rule.name for rule in self.saving_rule)]
        for i, name in enumerate(self.daylight_saving or ()):
            if name not in known:
                raise Refusal("unknown summer-time rule", at=("daylight_saving", i), value=name,
                              rule=f"one of {', '.join(known)}, or a [[keypad.saving_rule]]",
                              next_step=did_you_mean(name, known, "add a [[keypad.saving_rule]] of that name"))
        if self.daylight_saving == []:
            raise Refusal("the keypad offers no clock", at=("daylight_saving",), value="[]",
                          rule="at least one summer-time rule", next_step='daylight_saving = ["none"] is a clock that is never changed')
        return self


def offset_minutes(value) -> int | None:
    """Minutes of an offset from UTC such as "+09:30"; None if it is none."""
    parts = re.fullmatch(r"([+-])(\d\d?):(\d\d)", value) if isinstance(value, str) else None
    minutes = (60 * int(parts[2]) + int(parts[3])) * (-1 if parts[1] == "-" else 1) if parts else None
    return None if minutes is None or int(parts[3]) > 59 or abs(minutes) > 14 * 60 else minutes


class SharedSection(Section):
    """[shared]: the one setting under test; without a position geozone finds the best one."""

    lat_deg: Number | None = key("keyed latitude, north positive", None, example=-34.6, ge=-90, le=90)
    lon_deg: Number | None = key("keyed longitude, east positive", None, example=144.0, ge=-180, le=180)
    legal_zone: str | None = key("the zone whose clock the switch keeps", None, example="Australia/Sydney")
    dusk_offset_min: Whole = key("whole minutes added to dusk, positive is later", 0)
    dawn_offset_min: Whole = key("whole minutes added to dawn, positive is later", 0)
    clock: Literal["own", "master"] = key("own: every switch runs its own clock; master: one switch commands all", "own")

    @model_validator(mode="after")
    def _whole_setting(self):
        given = {name: getattr(self, name) is not None for name in ("lat_deg", "lon_deg", "legal_zone")}
        if any(given.values()) and not all(given.values()):
            missing = ", ".join(name for name, there in given.items() if not there)
            raise Refusal("the setting is not whole", value=", ".join(name for name, there in given.items() if there),
                          rule=f"a setting needs lat_deg, lon_deg and legal_zone; {missing} is missing",
                          next_step="add what is missing, or leave all three out and geozone finds the best setting")
        for name in ("dusk_offset_min", "dawn_offset_min"):
            if not any(given.values()) and getattr(self, name):
                raise Refusal("offsets belong to a position", at=(name,), value=getattr(self, name),
                              rule="give lat_deg, lon_deg and legal_zone too", next_step="add them, or leave the offset out")
        return self

    @property
    def given(self) -> bool:
        """True if the job names the setting, False if geozone is to find it."""
        return self.lat_deg is not None


class GroupsSection(Section):
    """[groups]: the fewest settings that serve every site, and what they are held against."""

    offsets: Switch = key("whether dusk and dawn offsets may be keyed", True)
    keep_together: Text | None = key("column: sites with the same value share one setting", None, example="cabinet")
    existing: Text | None = key("column with the grouping of today, to compare with", None, example="contract")
    within: Text | None = key("column: no group crosses from one value to another", None, example="area")
    curve_to: Whole = key("how small the worst minutes can be with 1, 2, ... settings, up to this many; 0 for none", 6, ge=0, le=30)
    time_limit_s: Number = key("the search stops then, in seconds", 60, gt=0, le=86_400)


class ZonesSection(Section):
    """[zones]: the fewest lighting zones of the service area, one setting each, for sites that are not built yet as well."""

    by: Literal["area", "free", "grid", "lines"] = key(
        "what zones are made of: whole outlines, which can be said as a list of names; any ground one setting serves; rectangles between meridians and "
        "parallels; or pieces between outlines and the lines of a file", "area")
    along: Text | None = key('file with lines, such as main roads: by = "lines" divides outlines along them, '
                                   'with by = "free" borders run along them where they can', None, example="roads.gpkg")
    compare: Switch = key("whether zones of the other kinds are counted as well", False)
    time_limit_s: Number = key("the search stops then, in seconds", 30, gt=0, le=86_400)

    @model_validator(mode="after")
    def _lines_for_lines(self):
        if self.by == "lines" and self.along is None:
            raise Refusal("zones.along is missing", at=("by",), rule='by = "lines" divides the outlines along the lines of a file',
                          next_step='add it to [zones]: along = "roads.gpkg"; or ask for by = "area"')
        return self


class RevisionRow(Section):
    """[[sheet.revisions]]: a row of the sheet's revision table."""

    index: Text = key("letter or number of the revision", example="A")
    what: str = key("what was changed", "", example="first issue")
    date: str = key("when", "", example="2027-02-01")
    by: str = key("by whom", "", example="NN")


class SheetSection(Section):
    """[sheet]: size and title block of sheet.pdf."""

    size: Literal["A4", "A3", "A2", "A1"] = key("size of the paper", "A3")
    orientation: Literal["landscape", "portrait"] = key("which way the paper lies", "landscape")
    scale: Whole | None = key("1 to how many; left out: the largest round one at which all has room", None, example=500000, ge=100, le=100_000_000)
    crs: str | None = key("a projected system in metres; left out: chosen from the area", None, example="EPSG:32754")
    language: str = key("language of the sheet: en, de, fr or es", "en")
    per: Literal["area"] | None = key("an overview and a sheet for each area", None, example="area")
    title: str = key("title; left out: the job's", "", example="Street lighting")
    supplement: str = key("second line of the title", "", example="Lot 2")
    owner: str = key("legal owner", "", example="Town of X")
    department: str = key("responsible department", "", example="Roads")
    reference: str = key("technical reference", "", example="NN")
    document_type: str = key("kind of document", "", example="plan")
    status: str = key("status of the document", "", example="for tender")
    number: str = key("identification number", "", example="17-4")
    revision: str = key("revision", "", example="A")
    creator: str = key("who drew it", "", example="NN")
    approver: str = key("who approved it", "", example="NN")
    date: str = key("date of issue", "", example="2027-02-01")
    revisions: list[RevisionRow] = table("rows of the revision table", [])


class CardsSection(Section):
    """[cards]: the cards for the crew."""

    size: Literal["A4", "A6"] = key("size of the paper", "A4")
    language: str = key("language of the cards: en, de, fr or es", "en")
    first_day: str = key("the visit: a fortnight of readings begins there", "", example="2027-06-21")


class AuditSection(Section):
    """[audit]: what was read off the switches, for the command audit; a run does not look at it."""

    found: Text | None = key("file with the as-found list: what a crew read at the switches", None, example="as_found.csv")


class SiteSections(Section):
    """What a job file says about sites, switches and settings."""

    job: JobSection = table("what the plan is for, and its files")
    columns: ColumnsSection = table("which column of the site list holds what", ColumnsSection())
    reading: ReadingSection = table("how the site list is written", ReadingSection())
    writing: WritingSection = table("how CSV files are written", WritingSection())
    dark: DarkSection = table("when it counts as dark")
    tolerance: ToleranceSection = table("how far a switching may be off", ToleranceSection())
    keypad: KeypadSection = table("what the time switches can hold", KeypadSection())
    shared: SharedSection = table("the one setting under test", SharedSection())
    groups: GroupsSection | None = table("the fewest settings that serve every site", None)
    zones: ZonesSection | None = table("the fewest lighting zones", None)
    audit: AuditSection = table("what was read off the switches", AuditSection())


class PaperSections(Section):
    """What a job file says about paper."""

    sheet: SheetSection = table("the sheet for a tender", SheetSection())
    cards: CardsSection = table("the cards for the crew", CardsSection())
