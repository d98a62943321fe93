"""Ground for the tests of zones."""

from __future__ import annotations

import geopandas as gpd

from geozone.jobs.examples import examples_folder
from geozone.jobs.job import read_job
from geozone.jobs.steps import place, read
from geozone.trade.basis import Basis, DarkThreshold
from geozone.trade.keypad import Keypad
from geozone.trade.setting import Tolerance
from geozone.zoning.zones import ground_units


def units(*shapes, zone="Etc/UTC", names=None):
    """Outlines as `ground_units` makes them, each on one clock."""
    names = names or [f"D{i}" for i in range(len(shapes))]
    return gpd.GeoDataFrame({"area": names, "legal_zone": zone, "share": 1.0}, geometry=list(shapes), crs="EPSG:4326")


def basis_of(dark=3.0, excess=6.0, altitude=-4.0, keypad=Keypad(), **more):
    return Basis(2027, DarkThreshold(altitude), Tolerance(dark, excess, **more), keypad)


def ground_of(job):
    """A job's sites and outlines with legal time."""
    found = read(job)
    return place(found.sites, found.areas, job.basis.year)


def border_ground():
    """The border example's ground, and what it is to be judged by."""
    job = read_job(examples_folder() / "border" / "job.toml")
    return ground_units(ground_of(job).pieces, job.basis.year), job.basis
