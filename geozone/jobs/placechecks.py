"""What a job's files and places must be before anything is computed: there, and of one place."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd

from ..files.folder import check_target
from ..places.servicearea import backdrop_notes, check_setting_place, counted_areas
from ..places.tables import find_file
from .job import Job


def check_early(job: Job, out) -> None:
    """What can be told at once, before anything is compiled or computed: the job's files are there, the output folder is free.

    Raises
    ------
    InputError, OutputError
    """
    for name in ("sites", "areas", "backdrop"):
        if getattr(job.job, name) and name not in job.frames:
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
