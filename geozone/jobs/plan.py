"""The run from top to bottom: read, place, sun, drift, groups, programmes, write."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd

from .. import __version__
from ..answers import Answers
from ..errors import InputError, PlanCheckError
from ..files.outputs import write_outputs
from ..grouping.grouptables import groups_summary
from ..numbers import clock, daylight
from ..numbers.shallow import judged_nights
from ..numbers.sun import switch_times
from ..places import zoneshapes
from ..places.antimeridian import cut, span_deg
from ..places.areas import hull_area, read_areas, read_backdrop, sites_in_areas
from ..places.lattice import solar_lattice
from ..places.legalzones import add_legal_time, clock_rules, legal_time_notes
from ..places.sites import SiteReading, read_sites
from ..places.whereabouts import whereabouts
from ..places.zonepieces import cut_areas, zone_boundaries
from ..screens.webmap import draw_map
from ..sharing.drift import unwrapped_lon_deg
from ..sharing.second_opinion import SecondOpinion, sample, second_opinion
from ..sharing.shared import FoundSetting, majority_clock_rule, searched_setting
from ..sharing.spread import area_spread, drift_field, drift_lines, dusk_lines
from ..summary import summarise
from ..switching.sitedrift import OTHER_CLOCK, site_drift
from ..trade.keypad import Keypad, keyed_text
from ..trade.setting import Setting, Tolerance
from .csvmanner import csv_manner
from .groupplan import clock_to_key, planned_groups
from .job import Job
from .jobplaces import line_of
from .paperagain import source_sums, write_and_keep
from .paperwork import check_paper
from .placechecks import belonging, check_early
from .programmeplan import foolish_programmes, given_programmes, planned_programmes, remarks, site_columns

# Margin of the service area round the sites where no outlines are given [km].
_HULL_MARGIN_KM = 10.0
_OPINION_SIZE = 200
# Outlines of legal zones are drawn with this many details across the map, and 0.0005 degrees at best.
_ZONE_DETAIL = 10_000
# What is proposed where the job judges every night.
_PROPOSED_DEG = 1.0


def run(job: Job, out, say: Callable[[str], None] = lambda text: None) -> Answers:
    """Compute a job and write its output folder, whole or not at all.

    Parameters
    ----------
    job : Job
    out : path-like
        The output folder.
    say : callable
        Told in one line what is being done.

    Returns
    -------
    Answers

    Raises
    ------
    InputError, OutputError
        Nothing was written then, and an earlier output folder is untouched.
    """
    check_early(job, out)
    check_paper(job)
    sources = source_sums(job)
    answers = compute(job, say)
    say("writing")
    on_paper: list[str] = []
    remarks = write_outputs(answers, Path(out), draw_map(answers),
                            lambda folder: on_paper.extend(write_and_keep(job, answers, sources, folder, say)))
    return replace(answers, notes=answers.notes + remarks + tuple(on_paper))


def compute(job: Job, say: Callable[[str], None] = lambda text: None) -> Answers:
    """Everything that a run finds out, without writing anything.

    Parameters
    ----------
    job : Job
    say : callable

    Returns
    -------
    Answers
    """
    year, tolerance = job.job.year, Tolerance(**job.tolerance.model_dump())
    keypad = Keypad(**{one.name: getattr(job.keypad, one.name) for one in fields(Keypad)})
    altitude_deg, threshold_text = daylight.dark_threshold(*job.dark.given)

    say("reading the site list")
    listed, areas, backdrop, notes = _read(job)
    refuse_exchanged(job, listed.sites, areas)
    manner, manner_notes = csv_manner(job, listed)
    notes += manner_notes
    areas, place_notes = belonging(job, listed.sites, areas, backdrop)
    notes += place_notes
    say("finding legal zones and clocks")
    sites = add_legal_time(listed.sites, year)
    notes += legal_time_notes(sites)
    rules = clock_rules(sites, year)
    where = whereabouts(sites)
    sites["area"], area_notes = sites_in_areas(sites, areas)
    notes += area_notes
    zones = zone_polygons_round(areas, sites)
    pieces = cut_areas(areas, zones, year)

    say("computing the shared setting's minutes off")
    setting, search = shared_setting(job, sites, rules, altitude_deg, tolerance, keypad)
    if search is None and (setting.lat_deg, setting.lon_deg) != (job.shared.lat_deg, job.shared.lon_deg):
        notes += (f"The keypad holds steps of {keypad.coordinate_step_deg:g} degrees: position {job.shared.lat_deg:g}, "
                  f"{job.shared.lon_deg:g} was rounded to {keyed_text(setting.lat_deg, keypad.coordinate_step_deg)}, "
                  f"{keyed_text(setting.lon_deg, keypad.coordinate_step_deg)}.",)
    switching = given_programmes(job, sites, rules)
    notes += shallow_note(sites, year, altitude_deg, tolerance)
    foolish = foolish_programmes(switching, sites, year, altitude_deg) if switching else frozenset()
    options = switching.options(foolish) if switching else {}
    notes += remarks(switching, foolish, year) if switching else ()
    judged = site_drift(sites, setting, year=year, altitude_deg=altitude_deg, tolerance=tolerance, keypad=keypad,
                        switch_clock=job.shared.clock, **options)
    sites = gpd.GeoDataFrame(pd.concat([sites, judged], axis=1), geometry="geometry", crs=sites.crs)
    if (sites["result"] == OTHER_CLOCK).all():
        most = rules["legal_zones"].iloc[0]
        notes += (f"No site keeps the clock of the setting's legal zone {setting.legal_zone}; most keep that of {most[0]}: "
                  "is shared.legal_zone right?",)

    groups = None
    if job.groups is not None:
        say("finding the fewest settings")
        try:
            groups, grouped = planned_groups(job, sites, rules, altitude_deg=altitude_deg, tolerance=tolerance, keypad=keypad)
        except PlanCheckError as error:
            # Everything else is right and wanted all the same.
            notes += (f"The groups are left out: their plan failed its own check ({error}). That is a defect of geozone; "
                      "please report it.",)
        else:
            sites = gpd.GeoDataFrame(pd.concat([sites, grouped], axis=1), geometry="geometry", crs=sites.crs)
            # The first note says what the headline says, and why where fewer settings are not ruled out.
            notes += groups.plan.notes[1 if groups.plan.proved else 0:]

    programmes = None
    if switching is not None:
        say("running the programmes through the year")
        programmes = planned_programmes(job, switching, sites, rules, altitude_deg=altitude_deg, tolerance=tolerance,
                                        keypad=keypad, shared=setting, groups=groups)
        more = site_columns(programmes, sites)
        sites = gpd.GeoDataFrame(pd.concat([sites, more], axis=1), geometry="geometry", crs=sites.crs)
        notes += programmes.notes

    say("computing dusk and dawn over the area")
    lattice = solar_lattice(areas)
    lat, lon = lattice.points_within()
    by_night = area_spread(lat_deg=lat, lon_deg=unwrapped_lon_deg(lon, setting.legal_zone, year), year=year, altitude_deg=altitude_deg)
    field = drift_field(lattice, setting, year=year, altitude_deg=altitude_deg, tolerance=tolerance, keypad=keypad)
    lines = [drift_lines(lattice, field, tolerance)]
    if by_night["dusk_spread_min"].notna().any():
        worst = by_night.loc[by_night["dusk_spread_min"].idxmax(), "night"]
        lines.append(dusk_lines(lattice, worst, pieces=pieces, year=year, altitude_deg=altitude_deg))

    say("checking against a second calculation")
    opinion = opinion_on(sites, year, altitude_deg)
    summary = summarise(sites=sites, where=where.as_dict(), rejects=listed.rejects, clock_rules=rules, spread=by_night, area_pieces=pieces,
                        setting=setting, search=search, switch_clock=job.shared.clock, opinion=opinion,
                        job={"title": job.job.title, "year": year, "dark_threshold": threshold_text,
                             "altitude_deg": altitude_deg, "dark_min": tolerance.dark_min,
                             "excess_min": tolerance.excess_min, "shallow_deg": tolerance.shallow_deg,
                             "coordinate_step_deg": keypad.coordinate_step_deg,
                             "offset_limit_min": keypad.offset_limit_min},
                        versions=versions(), notes=notes)
    summary["csv"] = {"separator": manner.separator, "decimal": manner.decimal, "encoding": manner.encoding}
    summary["shared"]["clock_to_key"] = clock_to_key(job, setting.legal_zone)
    if groups is not None:
        summary["groups"] = groups_summary(groups)
    if programmes is not None:
        summary.update(programmes.summary)
    return Answers(
        title=job.job.title, year=year, altitude_deg=altitude_deg, threshold_text=threshold_text,
        tolerance=tolerance, keypad=keypad, clock=job.shared.clock, setting=setting, search=search,
        sites=sites, rejects=listed.rejects, areas=areas, area_pieces=pieces, zones=zones,
        boundaries=zone_boundaries(zones, year), drift_lines=_stacked(lines), lattice=_points(field),
        spread=by_night, clock_rules=rules, backdrop=backdrop, summary=summary, notes=notes, versions=versions(),
        groups=groups, programmes=programmes, manner=manner)


def shallow_note(sites, year: int, altitude_deg: float, tolerance: Tolerance) -> tuple[str, ...]:
    """What is judged where the sun passes the threshold by little, said where there are such nights."""
    depth = tolerance.shallow_deg or _PROPOSED_DEG
    lat, lon = sites["lat_deg"].to_numpy(float), sites["solar_lon_deg"].to_numpy(float)
    # A night not judged at one latitude is not judged nearer the pole either: the outermost sites have the most.
    ends = [int(np.argmin(lat)), int(np.argmax(lat))]
    left_out = (~judged_nights(lat[ends], lon[ends], year, altitude_deg, depth)).sum(axis=1)
    if not left_out.any():
        return ()
    worst = int(np.argmax(left_out))
    where = f"up to {left_out[worst]} nights at {sites['site_id'].iloc[ends[worst]]}"
    degrees = f"{depth:g} degree{'' if depth == 1 else 's'}"
    if tolerance.shallow_deg:
        return (f"Nights on which the sun passes the threshold by less than {degrees} at a site, or not at all, are not judged "
                f"there: {where}. Their minutes are in the year's sums and are said apart.",)
    return (f"On some nights the sun passes the threshold by less than {degrees}, or not at all ({where}). Every night is judged; "
            f"[tolerance] shallow_deg = {depth:.1f} leaves these out.",)


def refuse_exchanged(job: Job, sites, areas) -> None:
    """Stop where latitude and longitude of the whole list are exchanged: valid numbers, in the wrong half of the world.

    A list alone cannot tell, so the outlines, or the given setting, say where the sites should be.

    Raises
    ------
    InputError
        If no site lies within five degrees of them, and most would, exchanged.
    """
    if job.job.areas:
        west, south, east, north = areas.total_bounds
        known = "the outlines"
    elif job.shared.given:
        west = east = job.shared.lon_deg
        south = north = job.shared.lat_deg
        known = "the setting's position"
    else:
        return
    lat, lon = sites["lat_deg"].to_numpy(float), sites["lon_deg"].to_numpy(float)

    def near(lat, lon):
        return (lat > south - 5) & (lat < north + 5) & (lon > west - 5) & (lon < east + 5)

    if not near(lat, lon).any() and near(lon, lat).mean() > 0.5:
        raise InputError("latitude and longitude look exchanged in the whole list", where=job.job.sites,
                         value=f"{lat[0]:g}, {lon[0]:g}", rule=f"sites near {known}",
                         next_step='exchange the two headings, or state [columns] lat = "..." and lon = "..."; '
                                   f"if it is {known} that is exchanged, mend that")


def shared_setting(job: Job, sites, rules, altitude_deg: float, tolerance: Tolerance,
                   keypad: Keypad) -> tuple[Setting, FoundSetting | None]:
    """The setting under test, as the keypad holds it, and what the search for it says, if geozone found it."""
    if job.shared.given:
        given = job.shared
        if not clock.valid_zone(given.legal_zone):
            near = clock.near_zones(given.legal_zone)
            raise InputError("shared.legal_zone is no legal zone", where=line_of(job.path, "shared", "legal_zone"), value=given.legal_zone,
                             rule="a name of the IANA time zone database, such as Australia/Adelaide",
                             next_step=f"did you mean {', '.join(near)}?" if near else None)
        return Setting(given.lat_deg, given.lon_deg, given.legal_zone, given.dusk_offset_min,
                       given.dawn_offset_min).on_keypad(keypad), None
    mine, zone = majority_clock_rule(sites, rules)
    lon = sites["solar_lon_deg"].to_numpy(float)
    if job.shared.clock == "master":
        # One switch commands all, whatever their clocks.
        mine, lon = np.ones(len(sites), bool), unwrapped_lon_deg(lon, zone, job.job.year)
    search = searched_setting(lat_deg=sites["lat_deg"].to_numpy(float)[mine], lon_deg=lon[mine], year=job.job.year,
                              altitude_deg=altitude_deg, legal_zone=zone, tolerance=tolerance, keypad=keypad)
    return search.setting, search


def opinion_on(sites, year: int, altitude_deg: float) -> SecondOpinion:
    """A random sample of the run's own switching times, recomputed by astral."""
    n_night = 366 if pd.Timestamp(year, 1, 1).is_leap_year else 365
    site, night = sample(len(sites), n_night, _OPINION_SIZE, seed=year)
    chosen, row = np.unique(site, return_inverse=True)
    lat, lon = (sites[name].to_numpy(float)[chosen] for name in ("lat_deg", "solar_lon_deg"))
    times = switch_times(lat_deg=lat, lon_deg=lon, year=year, altitude_deg=altitude_deg)
    return second_opinion(lat_deg=lat[row], lon_deg=lon[row], night=times.night[night],
                          dusk_utc_min=times.dusk_utc_min[row, night], dawn_utc_min=times.dawn_utc_min[row, night],
                          year=year, altitude_deg=altitude_deg)


def versions() -> dict[str, str]:
    """What a result depends on, by name."""
    from importlib.metadata import version

    return {"geozone": __version__, "tz database": clock.tz_version(),
            "zone boundaries": f"{zoneshapes.boundary_version()} ({zoneshapes.BOUNDARY_CREDIT})",
            "erfa": version("pyerfa"), "astral": version("astral"), "numba": version("numba")}


def zone_polygons_round(areas, sites):
    """Legal zones over the areas and the sites, with a margin for the map."""
    _, south, _, north = np.array([areas.total_bounds, sites.total_bounds]).T
    south, north = south.min(), north.max()
    west, east = span_deg(sites["lon_deg"], areas.geometry)
    width = (east - west) % 360.0
    margin = max(0.1 * max(width, north - south), 0.05)
    if west <= east:
        west, east = max(west - margin, -180.0), min(east + margin, 180.0)
    else:
        west, east = west - margin, east + margin
    return zoneshapes.zone_polygons((west, max(south - margin, -90.0), east, min(north + margin, 90.0)),
                                    simplify_deg=max(0.0005, max(width, north - south) / _ZONE_DETAIL))


def _read(job: Job):
    named = job.job
    # outlines first: a coordinate reference system of the list is tested against them
    areas, area_notes = read_areas(job.source("areas"), named.area_names) if named.areas else (None, ())
    try:
        listed = read_sites(job.source("sites"),
                            SiteReading(**job.columns.model_dump(), **job.reading.model_dump(), crs=named.crs),
                            None if areas is None else areas.geometry.to_numpy())
    except InputError as why:
        if why.key:
            why.where = "; ".join(filter(None, (line_of(job.path, *why.key), why.where)))
        raise
    notes = tuple(listed.notes) + tuple(area_notes)
    if areas is None:
        areas = hull_area(listed.sites, _HULL_MARGIN_KM)
        notes += (f"No outlines given: the service area is the sites' hull with {_HULL_MARGIN_KM:g} km of margin.",)
    backdrop = read_backdrop(job.source("backdrop")) if named.backdrop else None
    return listed, areas, backdrop, notes


def _stacked(frames: list) -> gpd.GeoDataFrame:
    columns = ["kind", "factor", "label", "geometry"]
    kept = [frame[columns] for frame in frames if len(frame)]
    if not kept:
        return gpd.GeoDataFrame({name: [] for name in columns[:3]}, geometry=[], crs="EPSG:4326")
    found = gpd.GeoDataFrame(pd.concat(kept, ignore_index=True), geometry="geometry", crs="EPSG:4326")
    return found.set_geometry(found.geometry.map(cut), crs="EPSG:4326")


def _points(field: pd.DataFrame) -> gpd.GeoDataFrame:
    inside = field[field["inside"]].drop(columns="inside").reset_index(drop=True)
    inside["lon_deg"] = (inside["lon_deg"] + 180.0) % 360.0 - 180.0 if inside["lon_deg"].gt(180.0).any() else inside["lon_deg"]
    return gpd.GeoDataFrame(inside, geometry=gpd.points_from_xy(inside["lon_deg"], inside["lat_deg"]), crs="EPSG:4326")
