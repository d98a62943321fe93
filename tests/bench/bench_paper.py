"""Speed and memory of the paper: of the examples (`geozone demo` makes the border one), and of 500 groups with 20,000 sites, whose figures are the example's, repeated.

    python tests/bench/bench_paper.py

Only the amounts are meant to be real in the large case: groups of it need not serve their sites. Each group has about two cards,
because one programme shifts dusk. The cost must grow no faster than the number of groups. With two numbers, groups and sites are
those, and only growth is judged:

    python tests/bench/bench_paper.py 50 2000
"""

from __future__ import annotations

import dataclasses
import resource
import sys
import tempfile
import time
from pathlib import Path

import geopandas as gpd
import numpy as np

from geozone.jobs.examples import examples_folder
from geozone.jobs.job import read_job
from geozone.jobs.paperwork import write_paper
from geozone.jobs.plan import compute

GROUPS, SITES = 500, 20_000
LIMIT_S, LIMIT_MB, SMALL_LIMIT_S = 60.0, 2000.0, 5.0


def enlarged(answers, groups: int = GROUPS, sites: int = SITES):
    """The same answers with more groups and sites."""
    rng = np.random.default_rng(1)
    plan, table = answers.groups.plan, answers.groups.settings
    names = [f"G{i}" for i in range(groups)]
    taken = np.resize(np.arange(len(answers.sites)), sites)
    group = np.array(names, dtype=object)[np.sort(rng.integers(0, groups, sites))]
    many = answers.sites.iloc[taken].reset_index(drop=True)
    many = many.assign(site_id=[f"S{i:05d}" for i in range(sites)], group=group, lat_deg=many["lat_deg"] + rng.normal(0, 0.05, sites),
                       lon_deg=many["lon_deg"] + rng.normal(0, 0.05, sites))
    of = [plan.settings[i % plan.count] for i in range(groups)]
    settings = [dataclasses.replace(one, name=name, setting=dataclasses.replace(
        one.setting, lat_deg=round(one.setting.lat_deg + 0.1 * (i // 4 % 20), 1), lon_deg=round(one.setting.lon_deg + 0.1 * (i // 80), 1)))
        for i, (name, one) in enumerate(zip(names, of, strict=True))]
    rows = np.arange(groups) % len(table)
    hulls = answers.groups.hulls.iloc[rows].reset_index(drop=True)
    hulls = gpd.GeoDataFrame(hulls.assign(group=names), geometry=hulls.geometry.translate(*rng.normal(0, 0.2, 2)), crs=hulls.crs)
    grouped = dataclasses.replace(answers.groups, plan=dataclasses.replace(plan, settings=settings, group_of_site=group),
                                  settings=table.iloc[rows].reset_index(drop=True).assign(group=names), hulls=hulls)
    found = answers.programmes
    years = [dataclasses.replace(one, group=name) for i, name in enumerate(names) for one in found.years if one.group == of[i].name]
    programmes = dataclasses.replace(found, years=years, sites=found.sites.iloc[taken].reset_index(drop=True).assign(setting_label=group),
                                     settings={one.name: one.setting for one in settings})
    return dataclasses.replace(answers, sites=many, groups=grouped, programmes=programmes)


def timed(job, answers) -> tuple[float, float]:
    with tempfile.TemporaryDirectory() as folder:
        begin, used = time.perf_counter(), time.process_time()
        write_paper(job, answers, Path(folder), lambda text: None)
        return time.perf_counter() - begin, time.process_time() - used


def main(groups: int = GROUPS, sites: int = SITES) -> None:
    smallest = 0.0
    for name in ("town", "border"):
        job = read_job(examples_folder() / name / "job.toml")
        small = compute(job)
        timed(job, small)
        wall, used = timed(job, small)
        smallest = max(smallest, used)
        print(f"{name} example, {len(small.sites)} sites: {wall:.1f} s ({used:.1f} s of processor time)")
    large = enlarged(small, groups, sites)
    large_wall, large_used = timed(job, large)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{groups} groups, {sites:,} sites: {large_wall:.1f} s ({large_used:.1f} s of processor time), {peak:,.0f} MB")
    grown = max(groups / small.groups.plan.count, sites / len(small.sites))
    print(f"{large_used / used:.0f} times the small case's for {grown:.0f} times the groups")
    assert large_used / used < grown
    if (groups, sites) != (GROUPS, SITES):
        return
    assert smallest <= SMALL_LIMIT_S and large_wall <= LIMIT_S and peak <= LIMIT_MB, "too slow or too large on an idle machine"


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
