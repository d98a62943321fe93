"""What a job's files and places must be before anything is computed: there, and of one place."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd

from ..errors import InputError
from ..files.folder import check_target
from ..places.servicearea import backdrop_notes, check_setting_place, counted_areas
from ..places.tables import find_file
from .job import SOURCES, Job


def check_early(job: Job, out) -> None:
    """What can be told at once, before anything is compiled or computed: the job's files are there, the output folder is free.

    Raises
    ------
    InputError, OutputError
    """
    for name in SOURCES:
        if job.file_of(name) and name not in job.frames:
            find_file(job.source(name))
    check_target(Path(out))


def belonging(job: Job, sites, areas, backdrop) -> tuple[gpd.GeoDataFrame, tuple[str, ...]]:
    """The outlines that count, and remarks; stops where outlines or setting are of another place, as in a job half made over.

    Raises
    ------
    InputError
    """
    notes: tuple[str, ...] = ()
    if job.job.areas:
        areas, notes = counted_areas(sites, areas, without_sites=job.job.areas_without_sites, file=job.job.areas)
    if job.shared.given:
        notes += check_setting_place(sites, job.shared.lat_deg, job.shared.lon_deg, job.called)
    if backdrop is not None:
        notes += backdrop_notes(sites, backdrop, job.job.backdrop)
    return areas, notes


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
