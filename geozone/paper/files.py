"""The files of a finished run. Draws finished answers; computes nothing."""

from __future__ import annotations

import json
import math
import os
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from ..grouping.grouphues import hues_apart
from .folder import SUMMARY_NAME, whole_folder
from .geopackage import Layer, write_geopackage
from .looks import area_look, drift_line_look, group_look, lattice_look, piece_look, site_look
from .programmefiles import programme_tables, write_programme_files
from .spreadsheets import write_csv, write_xlsx

if TYPE_CHECKING:
    from ..answers import Answers

# A workbook of 10,000 sites takes 4 s to write, of 50,000 longer than everything else of the run together.
XLSX_ROW_LIMIT = 10_000

# What a person looks for first; everything else follows in the order of the site list.
_FIRST_COLUMNS = (
    "site_id", "name", "area", "verdict", "group", "key_lat_deg", "key_lon_deg", "key_legal_zone", "key_dusk_offset_min",
    "key_dawn_offset_min", "programme", "worst_dark_min", "worst_dark_night", "worst_dark_edge",
    "worst_excess_min", "worst_excess_night", "worst_excess_edge", "nights_beyond", "dark_year_min", "excess_year_min",
    "nights_not_judged", "dark_not_judged_min", "excess_not_judged_min", "tolerance_factor", "group_dark_min", "group_excess_min", "witness", "programme_dark_min", "programme_excess_min", "lit_h",
    "kwh", "cost", "dark_h", "excess_h", "lat_deg", "lon_deg", "legal_zone", "legal_zone_source", "confirm_zone", "boundary_m",
    "clock_rule", "load_w", "row")
# Used inside a run only; the map, the lattice and the site table all say the same without them.
_LEFT_OUT = ("solar_lon_deg",)


def write_outputs(answers: "Answers", folder: str | os.PathLike, map_html: str) -> tuple[str, ...]:
    """Write every file of a run into one folder, whole or not at all.

    ``map.html``, ``geozone.gpkg``, ``sites.csv``, ``sites.xlsx``, ``rejects.csv``, ``spread.csv``, ``summary.json`` and,
    for a run with groups, ``groups.csv``, ``curve.csv``, ``existing.csv`` and ``unserved.csv``; for one with programmes
    ``hours.csv``, ``comparison.csv``, ``clocks.csv``, ``foolish.csv``, ``cures.toml``, ``timetable.csv`` and the folders
    ``pictures`` and ``calendars``.

    Parameters
    ----------
    answers : Answers
        The finished answers.
    folder : str or path
        The output folder; see `geozone.paper.folder.whole_folder` for what may be replaced.
    map_html : str
        The finished page.

    Returns
    -------
    tuple of str
        Sentences for the user, for example that the workbook was left out. Usually empty.

    Raises
    ------
    OutputError
        If the folder is in use or cannot be written. The old folder is untouched then.
    """
    with whole_folder(folder) as part:
        return write_files(answers, part, map_html)


def write_files(answers: "Answers", folder: Path, map_html: str) -> tuple[str, ...]:
    """Write every file into an existing folder, for a run that adds more files before the folder is finished.

    Parameters and returns as in `write_outputs`.

    Raises
    ------
    OSError
        If the disk refuses.
    """
    said = []
    (folder / "map.html").write_bytes(map_html.encode("utf-8", errors="replace"))
    write_geopackage(folder / "geozone.gpkg", layers(answers), description(answers))
    # A table that travels alone must say which law it was computed by.
    sites = ordered(answers.sites).assign(tz_database=answers.versions.get("tz database", ""))
    write_csv(sites, folder / "sites.csv")
    more = further_tables(answers)
    if len(sites) <= XLSX_ROW_LIMIT:
        sheets = [(name, table[table["level"] != "site"] if name == "hours" else table) for name, table in more]
        write_xlsx([("sites", sites), *sheets, ("rejects", answers.rejects), ("nights", answers.spread),
                    ("about", about(answers))], folder / "sites.xlsx", answers.title)
    else:
        said.append(f"sites.xlsx was left out: {len(sites):,} sites are more than {XLSX_ROW_LIMIT:,}; "
                    "sites.csv holds the same table")
    for name, table in more:
        write_csv(table, folder / f"{name}.csv")
    if answers.programmes is not None:
        write_programme_files(answers, folder)
    write_csv(answers.rejects, folder / "rejects.csv")
    write_csv(answers.spread, folder / "spread.csv")
    write_summary(answers.summary, folder / SUMMARY_NAME)
    return tuple(said)


def further_tables(answers: "Answers") -> list[tuple[str, pd.DataFrame]]:
    """Tables of answers that only some runs have: each a CSV file, and a sheet of the workbook."""
    tables = []
    if answers.groups is not None:
        groups = answers.groups
        tables += [("groups", groups.settings), ("curve", groups.curve.rename(columns={"k": "settings"})), ("existing", groups.existing),
                   ("unserved", groups.unserved)]
    if answers.programmes is not None:
        tables += programme_tables(answers)
    return [(name, table) for name, table in tables if len(table)]


def layers(answers: "Answers") -> list[Layer]:
    """The layers of the GeoPackage with their looks, points first, as a GIS stacks them."""
    pieces = answers.area_pieces
    groups = [] if answers.groups is None else [
        Layer("groups", answers.groups.hulls, "MultiPolygon",
              group_look(answers.groups.hulls["group"], hues_apart(list(answers.groups.hulls.geometry))))]
    return [
        Layer("sites", ordered(answers.sites), "Point", site_look()),
        *groups,
        # one row a line, not a level: every piece then carries its own label
        Layer("drift_lines", answers.drift_lines.explode(ignore_index=True), "LineString", drift_line_look()),
        Layer("area_pieces", pieces, "MultiPolygon", piece_look(pieces["clock_rule_text"].astype(str))),
        Layer("areas", answers.areas, "MultiPolygon", area_look()),
        Layer("lattice", answers.lattice, "Point", lattice_look()),
    ]


def ordered(sites: pd.DataFrame) -> pd.DataFrame:
    """The site table with the columns a person looks for first in front."""
    first = [name for name in _FIRST_COLUMNS if name in sites.columns]
    rest = [name for name in sites.columns if name not in first and name not in _LEFT_OUT]
    return sites[first + rest]


def about(answers: "Answers") -> pd.DataFrame:
    """What was computed and with what, two columns, for a sheet beside the tables."""
    setting, tolerance = answers.setting, answers.tolerance
    found = "found by geozone" if answers.search is not None else "given"
    rows = [
        ("title", answers.title), ("year", answers.year), ("dark threshold", answers.threshold_text),
        ("tolerance", f"{tolerance.dark_min:g} dark minutes, {tolerance.excess_min:g} excess minutes"),
        (f"shared setting ({found})", f"latitude {setting.lat_deg:g}, longitude {setting.lon_deg:g}, {setting.legal_zone}, "
                                      f"dusk offset {setting.dusk_offset_min:+d} min, "
                                      f"dawn offset {setting.dawn_offset_min:+d} min"),
        *([] if answers.groups is None else [("fewest settings", answers.groups.headline),
                                             ("why not fewer", answers.groups.plan.witnesses.sentence)]),
        ("sites used", len(answers.sites)), ("rows rejected", len(answers.rejects)),
        *((f"version: {name}", text) for name, text in answers.versions.items()),
        *(("note", note) for note in answers.notes),
    ]
    return pd.DataFrame(rows, columns=["about", "value"], dtype=object)


def description(answers: "Answers") -> str:
    """One line that says what a layer is, for readers of the GeoPackage alone."""
    versions = ", ".join(f"{name} {text}" for name, text in answers.versions.items())
    return f"{answers.title}: year {answers.year}, {answers.threshold_text}; {versions}"


def write_summary(summary: Mapping, path: Path) -> None:
    """Write the summary as JSON: keys in the given order, NaN and infinity as null, the same bytes for the same run."""
    text = json.dumps(_plain(summary), indent=2, ensure_ascii=False, allow_nan=False)
    path.write_bytes((text + "\n").encode("utf-8", errors="replace"))


def _plain(value: object) -> object:
    """The value in types that JSON has."""
    if isinstance(value, Mapping):
        return {str(key): _plain(part) for key, part in value.items()}
    if isinstance(value, np.ndarray):
        return _plain(value.tolist())
    if isinstance(value, (list, tuple)):
        return [_plain(part) for part in value]
    if isinstance(value, (bool, np.bool_)):
        return bool(value)
    if isinstance(value, (int, np.integer)):
        return int(value)
    if isinstance(value, (float, np.floating)):
        return float(value) if math.isfinite(value) else None
    if value is None or value is pd.NaT or value is pd.NA:
        return None
    if isinstance(value, np.datetime64):
        return str(value)
    return str(value)
