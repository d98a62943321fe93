"""What the worker does for the desk: run a job, look at its files. Each task takes plain data and gives plain data."""

from __future__ import annotations

import contextlib
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from ..errors import GeozoneError, InputError
from ..files.spreadsheets import neutral
from .faults import fault

Say = Callable[[Any], None]
# Points of the small map; more would only lie on each other.
_MOST_POINTS = 4000
_REJECTS_SHOWN = 200


def run(task: dict, say: Say) -> dict:
    """Run a job exactly as `geozone run` does, and keep what it says."""
    from ..jobs.job import read_job
    from ..jobs.placechecks import check_early
    from ..jobs.plan import run as run_plan
    from ..screens import console
    from ..screens.preparing import parts_of

    job = read_job(task["job"])
    out = job.folder / "out"
    check_early(job, out)
    # Helpers that compile print nothing, but a library may: the worker's lines are its own.
    with contextlib.redirect_stdout(io.StringIO()):
        console.prepare(say, parts_of(job))
        answers = run_plan(job, out, say, task.get("kept"))
    return {"report": console.report(answers, out)}


def kept_of(path: str):
    """A job's files, read and placed; None where they cannot be, which every task that needs them then says itself."""
    from ..jobs.job import read_job
    from ..jobs.kept import keep

    try:
        return keep(read_job(path))
    except Exception:
        return None


def tried(task: dict, say: Say) -> dict:
    """What a plan would answer if its job were another: told in parts as they are known, the last as the result.

    Parameters
    ----------
    task : dict
        "job" (its path), "text" (what it would be), "limits_s" (how long the settings are searched, shortest first).
    """
    from ..jobs.job import job_of_text
    from ..jobs.kept import keep
    from ..jobs.trial import trial

    job, kept = job_of_text(task["text"], Path(task["job"])), task.get("kept")
    if kept is None or not kept.fits(job, setting_too=False):
        kept = keep(job)
    whole: dict[str, Any] = {}
    for part in trial(job, kept.placed, task["limits_s"]):
        whole.update(part)
        say(part)
    return whole


def years(task: dict, say: Say) -> dict:
    """Pictures of the programmes of a job.

    Parameters
    ----------
    task : dict
        "job" (its path), "text", "setting" (what is keyed where the job names none; as `Setting`), or None.
    """
    from ..jobs.job import job_of_text
    from ..jobs.yearsoflight import years_of_light
    from ..trade.setting import Setting

    job, found = job_of_text(task["text"], Path(task["job"])), task["setting"]
    shared = job.shared
    if shared.given:
        found = {name: getattr(shared, name) for name in ("lat_deg", "lon_deg", "legal_zone", "dusk_offset_min", "dawn_offset_min")}
    if found is None:
        raise InputError("no place is known yet for the pictures of the year", next_step="say today's shared setting, or run the plan once")
    setting = Setting(**found)
    return {"years": [{"programme": one.programme, "svg": one.svg, "wasted": one.wasted, "lit_h": one.lit_h} for one in years_of_light(job, setting)],
            "lat_deg": setting.lat_deg, "lon_deg": setting.lon_deg}


def audit(task: dict, say: Say) -> dict:
    """Audit the switches of a job exactly as `geozone audit` does, and keep what it says."""
    from ..jobs.auditlists import found_list
    from ..jobs.auditplan import audit as run_audit
    from ..jobs.job import read_job
    from ..screens import console
    from ..screens.preparing import parts_of

    job = read_job(task["job"])
    found, out = found_list(job), job.folder / "audit"
    with contextlib.redirect_stdout(io.StringIO()):
        console.prepare(say, tuple(dict.fromkeys((*parts_of(job), "programmes"))))
        done = run_audit(job, found, out, say)
    return {"report": console.audit_report(done, out)}


def look(task: dict, say: Say) -> dict:
    """Look at the files that a job names.

    Parameters
    ----------
    task : dict
        "folder", "sites", "areas", "area_names", "backdrop", "reading" (fields of `SiteReading`), "year", "near" (what somebody
        calls a place near the sites).
    """
    from ..places.areas import read_areas, read_backdrop
    from ..places.look import look_at
    from ..places.sites import SiteReading
    from ..places.whereabouts import place_named, place_names

    folder = Path(task["folder"])
    found: dict[str, Any] = {}
    areas = None
    if task.get("areas"):
        say("reading the outlines")
        try:
            areas, notes = read_areas(folder / task["areas"], task.get("area_names"))
            found["areas"] = {"count": len(areas), "names": [str(name) for name in areas["area"].head(12)], "notes": list(notes)}
        except GeozoneError as why:
            found["areas"] = {"error": fault(why)}
    if task.get("backdrop"):
        try:
            found["backdrop"] = {"count": len(read_backdrop(folder / task["backdrop"]))}
        except GeozoneError as why:
            found["backdrop"] = {"error": fault(why)}
    if task.get("sites"):
        say("reading the site list")
        near = place_named(task["near"]) if task.get("near") else None
        seen = look_at(folder / task["sites"], SiteReading(**task["reading"]), None if areas is None else areas.geometry.to_numpy(), near)
        found["list"] = _listed(seen, task["year"])
        if seen.needs_system:
            found.update(places=place_names(), near=near.words if near is not None else "")
    found["map"] = _map(found.get("list", {}).pop("points", []), areas)
    return found


def _listed(seen, year: int) -> dict:
    rejects = [] if seen.sites is None else seen.sites.rejects.head(_REJECTS_SHOWN).to_dict("records")
    made = {"file": seen.file, "layer": seen.layer, "layers": list(seen.layers), "encoding": seen.encoding, "separator": seen.separator,
            "decimal": seen.decimal, "heading_row": seen.heading_row, "rows": seen.rows,
            "columns": [{"name": one.name, "role": one.role, "stated": one.stated, "candidate_for": list(one.candidate_for), "values": list(one.values)}
                        for one in seen.columns],
            "used": None if seen.sites is None else len(seen.sites.sites), "rejected": None if seen.sites is None else len(seen.sites.rejects),
            "rejects": [{name: str(value) for name, value in row.items()} for row in rejects],
            "to_mend": _csv(seen.to_mend) if len(seen.to_mend) else "", "needs_system": seen.needs_system,
            "systems": [{"code": one.code, "name": one.name, "lat_deg": one.lat_deg, "lon_deg": one.lon_deg} for one in seen.systems],
            "notes": list(seen.notes), "error": None if seen.error is None else fault(seen.error), "zones": [], "points": []}
    if seen.sites is not None:
        made.update(_placed(seen.sites.sites, year))
    return made


def _placed(sites, year: int) -> dict:
    """Legal zones with their clocks and counts, and points by clock for the small map."""
    import numpy as np

    from ..places.legalzones import add_legal_time, clock_rules

    try:
        placed = add_legal_time(sites, year)
        rules = clock_rules(placed, year)
    except InputError as why:
        return {"notes": [str(why)]}
    zones = placed.groupby(["legal_zone", "clock_rule"], sort=False).size()
    some = np.linspace(0, len(placed) - 1, min(len(placed), _MOST_POINTS)).astype(int)
    points = [[round(float(lon), 5), round(float(lat), 5), int(rule)] for lon, lat, rule in
              zip(placed["lon_deg"].to_numpy()[some], placed["lat_deg"].to_numpy()[some], placed["clock_rule"].to_numpy()[some])]
    return {"zones": [{"zone": str(zone), "rule": int(rule), "clock": str(rules["text"].iloc[int(rule)]), "sites": int(count)}
                      for (zone, rule), count in zones.items()], "points": points}


def _map(points: list, areas) -> dict | None:
    """Points and outlines of the small map, in degrees; None where there is nothing to show."""
    lines = []
    if areas is not None:
        extent = max(areas.total_bounds[2] - areas.total_bounds[0], areas.total_bounds[3] - areas.total_bounds[1])
        for shape in areas.geometry.simplify(extent / 500).explode(index_parts=False):
            if shape is not None and shape.geom_type == "Polygon" and not shape.is_empty:
                lines.append([[round(float(x), 5), round(float(y), 5)] for x, y, *_ in shape.exterior.coords])
    return {"points": points, "lines": lines[:500]} if points or lines else None


def _csv(frame) -> str:
    """A table for a spreadsheet program, as the tables of a run are: nothing in it starts a formula."""
    frame = frame.map(lambda cell: neutral(cell) if isinstance(cell, str) else cell)
    return frame.to_csv(index=False)


TASKS: dict[str, Callable[[dict, Say], dict]] = {"run": run, "audit": audit, "look": look, "try": tried, "years": years}


def perform(task: dict, say: Say) -> dict:
    """One task: {"done": ...}, {"error": ...} for the user's mistake, or {"defect": ...} for one of geozone."""
    try:
        return {"done": TASKS[task["do"]](task, say)}
    except GeozoneError as why:
        return {"error": fault(why)}
    except MemoryError:
        return {"error": fault(InputError("there is not enough memory for this plan", next_step="close other programs, or split the list"))}
    except Exception as why:  # a defect must not leave the page waiting
        import traceback

        return {"defect": {"what": f"{type(why).__name__}: {why}"[:500], "trace": traceback.format_exc()[-6000:]}}


def written(folder: Path, number: int, result: dict) -> None:
    """Put a result where the desk looks for it: whole, or not there."""
    part = folder / f"{number}.part"
    part.write_text(json.dumps(result), encoding="utf-8")
    part.replace(folder / f"{number}.json")
