"""The first steps of a run, each with its inputs stated: reading, placing, the shared setting and its minutes off.

A step takes what it depends on and gives a record; a caller that keeps the records need only run again what has changed. The
other steps have rooms of their own: `sharing.overarea`, `groupplan`, `programmeplan`, `sharing.second_opinion`.
"""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd

from ..errors import InputError
from ..numbers import clock
from ..places.areas import hull_area, read_areas, read_backdrop, read_lines, sites_in_areas
from ..places.legalzones import add_legal_time, clock_rules, legal_time_notes
from ..places.manners import Manner
from ..places.sites import SiteList, SiteReading, read_sites
from ..places.standins import stand_ins
from ..places.whereabouts import Whereabouts, whereabouts
from ..places.zonepieces import cut_areas, zone_boundaries
from ..places.zoneshapes import zone_polygons_round
from ..sharing.drift import unwrapped_lon_deg
from ..sharing.notjudged import shallow_note
from ..sharing.shared import FoundSetting, majority_clock_rule, searched_setting
from ..switching.sitedrift import OTHER_CLOCK, site_drift
from ..trade.keypad import keyed_text
from ..trade.setting import Setting
from .csvmanner import csv_manner
from .job import Job
from .jobplaces import line_of
from .placechecks import belonging, refuse_exchanged
from .programmeplan import Switching, foolish_programmes, given_programmes, remarks

# Margin of the service area round the sites where no outlines are given [km].
_HULL_MARGIN_KM = 10.0


@dataclass(frozen=True, eq=False)
class Read:
    """A job's files, checked.

    Attributes
    ----------
    sites : geopandas.GeoDataFrame
        As `read_sites`; `rejects` are the rows that could not be used.
    rejects : pandas.DataFrame
    areas : geopandas.GeoDataFrame
        The outlines that count, or a hull round the sites.
    backdrop, along : geopandas.GeoDataFrame or None
        What is drawn under the map, and lines along which outlines may be divided.
    manner : Manner
        How CSV files are to be written.
    notes : tuple of str
    """

    sites: gpd.GeoDataFrame
    rejects: pd.DataFrame
    areas: gpd.GeoDataFrame
    backdrop: gpd.GeoDataFrame | None
    manner: Manner
    notes: tuple[str, ...]
    along: gpd.GeoDataFrame | None = None


@dataclass(frozen=True, eq=False)
class Placed:
    """Sites and outlines with legal time, for one year.

    Attributes
    ----------
    sites : geopandas.GeoDataFrame
        As `add_legal_time`, and `area`.
    clock_rules : pandas.DataFrame
    where : Whereabouts
    pieces, zones, boundaries : geopandas.GeoDataFrame
        Outlines cut by legal time, the legal zones round the sites, and their borders.
    notes : tuple of str
    """

    sites: gpd.GeoDataFrame
    clock_rules: pd.DataFrame
    where: Whereabouts
    pieces: gpd.GeoDataFrame
    zones: gpd.GeoDataFrame
    boundaries: gpd.GeoDataFrame
    notes: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Judged:
    """The shared setting and how every site fares with it.

    Attributes
    ----------
    setting : Setting
        As the keypad holds it.
    search : FoundSetting or None
        None where the job gave the setting.
    switching : Switching or None
        The job's programmes, if it has any.
    columns : pandas.DataFrame
        As `site_drift`, index-identical with the sites.
    notes : tuple of str
    """

    setting: Setting
    search: FoundSetting | None
    switching: Switching | None
    columns: pd.DataFrame
    notes: tuple[str, ...]


def read(job: Job) -> Read:
    """Read a job's files and check that they belong together.

    Raises
    ------
    InputError
    """
    named = job.job
    # outlines first: a coordinate reference system of the list is tested against them
    areas, area_notes = read_areas(job.source("areas"), named.area_names) if named.areas else (None, ())
    try:
        listed = _listed(job, areas)
    except InputError as why:
        if why.key:
            why.where = "; ".join(filter(None, (line_of(job.path, *why.key), why.where)))
        raise
    notes = tuple(listed.notes) + tuple(area_notes)
    if areas is None:
        areas = hull_area(listed.sites, _HULL_MARGIN_KM)
        notes += (f"No outlines given: the service area is the sites' hull with {_HULL_MARGIN_KM:g} km of margin.",)
    backdrop = read_backdrop(job.source("backdrop")) if named.backdrop else None
    along = read_lines(job.source("along")) if job.file_of("along") else None
    refuse_exchanged(job, listed.sites, areas)
    manner, manner_notes = csv_manner(job, listed)
    areas, place_notes = belonging(job, listed.sites, areas, backdrop)
    return Read(listed.sites, listed.rejects, areas, backdrop, manner, notes + manner_notes + place_notes, along)


def _listed(job: Job, areas: gpd.GeoDataFrame | None) -> SiteList:
    """The site list, or what stands in for it."""
    if job.job.sites is None and areas is not None:
        return stand_ins(areas, job.basis.year)
    reading = SiteReading(**job.columns.model_dump(), **job.reading.model_dump(), crs=job.job.crs)
    return read_sites(job.source("sites"), reading, None if areas is None else areas.geometry.to_numpy())


def place(sites: gpd.GeoDataFrame, areas: gpd.GeoDataFrame, year: int) -> Placed:
    """Legal time of a year for sites, and for the areas that they lie in."""
    sites = add_legal_time(sites, year)
    rules = clock_rules(sites, year)
    where = whereabouts(sites)
    sites["area"], area_notes = sites_in_areas(sites, areas)
    zones = zone_polygons_round(areas, sites)
    return Placed(sites, rules, where, cut_areas(areas, zones, year), zones, zone_boundaries(zones, year),
                  legal_time_notes(sites) + area_notes)


def judge(job: Job, placed: Placed) -> Judged:
    """The setting under test, given or searched for, held against every site; with programmes, as these are run.

    Raises
    ------
    InputError
        For a setting or programmes that do not fit the sites.
    """
    basis, sites, rules = job.basis, placed.sites, placed.clock_rules
    setting, search = shared_setting(job, sites, rules)
    notes: tuple[str, ...] = ()
    if search is None and (setting.lat_deg, setting.lon_deg) != (job.shared.lat_deg, job.shared.lon_deg):
        step_deg = basis.keypad.coordinate_step_deg
        notes += (f"The keypad holds steps of {step_deg:g} degrees: position {job.shared.lat_deg:g}, "
                  f"{job.shared.lon_deg:g} was rounded to {keyed_text(setting.lat_deg, step_deg)}, "
                  f"{keyed_text(setting.lon_deg, step_deg)}.",)
    switching = given_programmes(job, sites, rules)
    notes += shallow_note(sites, basis)
    foolish = foolish_programmes(switching, sites, basis) if switching else frozenset()
    how = switching.judged(foolish, basis) if switching else {"basis": basis}
    notes += remarks(switching, foolish, basis.year) if switching else ()
    columns = site_drift(sites, setting, **how)
    if (columns["result"] == OTHER_CLOCK).all():
        most = rules["legal_zones"].iloc[0]
        notes += (f"No site keeps the clock of the setting's legal zone {setting.legal_zone}; most keep that of {most[0]}: "
                  "is shared.legal_zone right?",)
    return Judged(setting, search, switching, columns, notes)


def shared_setting(job: Job, sites, rules) -> tuple[Setting, FoundSetting | None]:
    """The setting under test, as the keypad holds it, and what the search for it says, if geozone found it."""
    if job.shared.given:
        given = job.shared
        if not clock.valid_zone(given.legal_zone):
            near = clock.near_zones(given.legal_zone)
            raise InputError("shared.legal_zone is no legal zone", where=line_of(job.path, "shared", "legal_zone"), value=given.legal_zone,
                             rule="a name of the IANA time zone database, such as Australia/Adelaide",
                             next_step=f"did you mean {', '.join(near)}?" if near else None)
        return Setting(given.lat_deg, given.lon_deg, given.legal_zone, given.dusk_offset_min,
                       given.dawn_offset_min).on_keypad(job.basis.keypad), None
    mine, zone = majority_clock_rule(sites, rules)
    lon = sites["solar_lon_deg"].to_numpy(float)
    if job.basis.switch_clock == "master":
        # One switch commands all, whatever their clocks.
        mine, lon = np.ones(len(sites), bool), unwrapped_lon_deg(lon, zone, job.basis.year)
    search = searched_setting(sites["lat_deg"].to_numpy(float)[mine], lon[mine], zone, job.basis)
    return search.setting, search
