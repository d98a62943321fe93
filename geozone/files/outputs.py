"""The files of a finished run. Draws finished answers; computes nothing."""

from __future__ import annotations

import json
import math
import os
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from ..grouping.cabinets import cabinets_table
from ..grouping.grouphues import hues_apart
from ..schema.column import Table
from ..schema.site_columns import SITES
from ..schema.tables import check_table, glossary, manner_row, table_named
from ..trade.keypad import keyed_text
from .folder import SUMMARY_NAME, whole_folder
from .geopackage import Layer, write_geopackage
from .looks import area_look, drift_line_look, group_look, lattice_look, piece_look, site_look, zone_look
from .programmefiles import group_key_events, programme_tables, write_programme_files
from .spreadsheets import write_csv
from .workbook import Sheet, write_xlsx
from .zonefiles import zones_geojson

if TYPE_CHECKING:
    from ..answers import Answers

# A workbook of 10,000 sites takes 4 s to write, of 50,000 longer than everything else of the run together.
XLSX_ROW_LIMIT = 10_000

# Used inside a run only; the map, the grid and the site table all say the same without them.
_LEFT_OUT = ("solar_lon_deg",)
_SHEET_NAMES = {"spread": "nights"}


def write_outputs(answers: "Answers", folder: str | os.PathLike, map_html: str,
                  more: Callable[[Path], None] = lambda folder: None, crew: pd.DataFrame | None = None) -> tuple[str, ...]:
    """Write every file of a run into one folder, whole or not at all.

    ``map.html``, ``geozone.gpkg``, ``sites.csv``, ``sites.xlsx``, ``columns.csv``, ``rejects.csv``, ``spread.csv``, ``summary.json``,
    ``crew.csv`` where it is given, for a run with zones ``zones.csv``,
    ``zones.geojson`` and ``unserved_areas.csv``, for one with groups,
    ``groups.csv``, ``curve.csv``, ``existing.csv``, ``unserved.csv`` and ``cabinets.csv``; for one with programmes
    ``hours.csv``, ``comparison.csv``, ``clocks.csv``, ``faulty.csv``, ``corrections.toml``, ``timetable.csv`` and the folders
    ``pictures`` and ``calendars``.

    Parameters
    ----------
    answers : Answers
        The finished answers.
    folder : str or path
        The output folder; see `geozone.files.folder.whole_folder` for what may be replaced.
    map_html : str
        The finished page.
    more : callable
        Writes further files into the folder before it is finished: the paper.
    crew : DataFrame, optional
        The crew lead's list; see `geozone.paper.crewlist.crew_table`.

    Returns
    -------
    tuple of str
        Sentences for the user, for example that the workbook was left out. Usually empty.

    Raises
    ------
    OutputError
        If the folder is in use or cannot be written. The old folder is untouched then.
    """
    check_declared(answers, crew)
    with whole_folder(folder) as part:
        said = write_files(answers, part, map_html, crew)
        more(part)
        return said


def write_files(answers: "Answers", folder: Path, map_html: str, crew: pd.DataFrame | None = None) -> tuple[str, ...]:
    """Write every file into an existing folder, for a run that adds more files before the folder is finished.

    Parameters and returns as in `write_outputs`.

    Raises
    ------
    OSError
        If the disk refuses.
    """
    said = []
    (folder / "map.html").write_bytes(map_html.encode("utf-8", errors="replace"))
    drawn = layers(answers)
    write_geopackage(folder / "geozone.gpkg", drawn, description(answers))
    all_tables = tables(answers, crew)
    if len(answers.sites) <= XLSX_ROW_LIMIT:
        sheets = [Sheet(_SHEET_NAMES.get(sheet, sheet), part, table_named(name)) for name, table in all_tables
                  for sheet, part in (_hours_sheets(table) if name == "hours" else [(name, table)])]
        write_xlsx([*sheets, Sheet("about", about(answers))], folder / "sites.xlsx", answers.title,
                   answers.keypad.coordinate_step_deg)
    else:
        said.append(f"sites.xlsx was left out: {len(answers.sites):,} sites are more than {XLSX_ROW_LIMIT:,}; "
                    "sites.csv holds the same table")
    for name, table in all_tables:
        write_table(answers, table, folder / f"{name}.csv", table_named(name))
    written = [*all_tables, *((layer.name, layer.table.drop(columns=layer.table.geometry.name)) for layer in drawn
                              if layer.name not in {name for name, _ in all_tables})]
    explained = [manner_row(answers.manner.sentence), *glossary((name, list(table.columns)) for name, table in written)]
    write_table(answers, pd.DataFrame(explained), folder / "columns.csv")
    if answers.zoning is not None and len(answers.zoning.zones):
        (folder / "zones.geojson").write_bytes(zones_geojson(answers.zoning.zones))
    if answers.programmes is not None:
        write_programme_files(answers, folder)
    write_summary(answers.summary, folder / SUMMARY_NAME)
    return tuple(said)


def write_table(answers: "Answers", table: pd.DataFrame, path: Path, declared: Table | None = None) -> None:
    """Write a table of a run as CSV: in the run's manner, keyed positions with the digits of its keypad."""
    write_csv(table, path, declared, answers.manner, answers.keypad.coordinate_step_deg)


def further_tables(answers: "Answers") -> list[tuple[str, pd.DataFrame]]:
    """Tables of answers that only some runs have: each a CSV file, and a sheet of the workbook."""
    tables = []
    if answers.groups is not None:
        groups = answers.groups
        settings = groups.settings if answers.programmes is None else \
            groups.settings.assign(key_events=groups.settings["group"].map(group_key_events(answers.programmes)))
        tables += [("groups", settings), ("curve", groups.curve.rename(columns={"k": "settings"})), ("existing", groups.existing),
                   ("unserved", groups.unserved)]
        if groups.keep_together:
            tables.append(("cabinets", cabinets_table(answers.sites, groups.keep_together, groups.settings)))
    if answers.zoning is not None:
        tables += [("zones", pd.DataFrame(answers.zoning.zones.drop(columns="geometry"))), ("unserved_areas", answers.zoning.unserved)]
        tables += [] if answers.zoning.borders is None else [("zone_borders", answers.zoning.borders)]
    if answers.programmes is not None:
        tables += programme_tables(answers)
    return [(name, table) for name, table in tables if len(table)]


def _hours_sheets(hours: pd.DataFrame) -> list[tuple[str, pd.DataFrame]]:
    """The hours as two sheets: by programme and group, and by site, so that neither is lost in the other."""
    one = hours["level"] == "site"
    sheets = [("hours", hours[~one]), ("hours by site", hours[one].drop(columns="level"))]
    return [(name, table) for name, table in sheets if len(table)]


def layers(answers: "Answers") -> list[Layer]:
    """The layers of the GeoPackage with their looks, points first, as a GIS stacks them."""
    pieces = answers.area_pieces
    groups = [] if answers.groups is None else [
        Layer("groups", answers.groups.hulls, "MultiPolygon",
              group_look(answers.groups.hulls["group"], hues_apart(list(answers.groups.hulls.geometry))))]
    zoning = answers.zoning
    zones = [] if zoning is None or not len(zoning.zones) else [
        Layer("zones", zoning.zones, "MultiPolygon", zone_look(zoning.zones["zone"], hues_apart(list(zoning.zones.geometry))))]
    return [
        Layer("sites", ordered(answers.sites), "Point", site_look()),
        *groups,
        *zones,
        # one row a line, not a level: every piece then carries its own label
        Layer("drift_lines", answers.drift_lines.explode(ignore_index=True), "LineString", drift_line_look()),
        Layer("area_pieces", pieces, "MultiPolygon", piece_look(pieces["clock_rule_text"].astype(str))),
        Layer("areas", answers.areas, "MultiPolygon", area_look()),
        Layer("grid", answers.lattice, "Point", lattice_look()),
    ]


def ordered(sites: pd.DataFrame) -> pd.DataFrame:
    """The site table with the columns a person looks for first in front, the user's own last."""
    return sites[SITES.ordered(name for name in sites.columns if name not in _LEFT_OUT)]


def tables(answers: "Answers", crew: pd.DataFrame | None = None) -> list[tuple[str, pd.DataFrame]]:
    """Every table that the run has, by its declared name, in the order of the workbook; rejects and nights last."""
    # A table that travels alone must say which law it was computed by.
    sites = ordered(answers.sites).assign(tz_database=answers.versions.get("tz database", ""))
    sites = sites[SITES.ordered(sites.columns)]
    listed = [] if crew is None or not len(crew) else [("crew", crew)]
    return [("sites", sites), *listed, *further_tables(answers), ("rejects", answers.rejects), ("spread", answers.spread)]


def check_declared(answers: "Answers", crew: pd.DataFrame | None = None) -> None:
    """Raise `UndeclaredError` where a table or layer holds a column or word that no declaration knows."""
    for name, table in [*tables(answers, crew), *((layer.name, layer.table) for layer in layers(answers))]:
        # Columns of the site table that are not declared are the user's own.
        own = [column for column in table.columns if column not in SITES] if name == "sites" else ()
        check_table(name, table, own)


def about(answers: "Answers") -> pd.DataFrame:
    """What was computed and with what, two columns, for a sheet beside the tables."""
    setting, tolerance, step = answers.setting, answers.tolerance, answers.keypad.coordinate_step_deg
    found = "found by geozone" if answers.search is not None else "given"
    rows = [
        ("title", answers.title), ("year", answers.year), ("dark threshold", answers.threshold_text),
        ("tolerance", f"{tolerance.dark_min:g} min unlit, {tolerance.excess_min:g} min lit too long"),
        (f"shared setting ({found})", f"latitude {keyed_text(setting.lat_deg, step)}, longitude {keyed_text(setting.lon_deg, step)}, "
                                      f"dusk offset {setting.dusk_offset_min:+d} min, "
                                      f"dawn offset {setting.dawn_offset_min:+d} min"),
        ("clock of that setting", _clock(answers)),
        *([] if answers.groups is None else [("fewest settings", answers.groups.headline),
                                             ("why not fewer",
                                              f"{answers.groups.plan.witnesses.sentence} {answers.groups.reason}".strip())]),
        *([] if answers.zoning is None else [("lighting zones", answers.zoning.headline)]),
        ("sites used", len(answers.sites)), ("rows rejected", len(answers.rejects)),
        *((f"version: {name}", text) for name, text in answers.versions.items()),
        *(("note", note) for note in answers.notes),
    ]
    return pd.DataFrame(rows, columns=["about", "value"], dtype=object)


def _clock(answers: "Answers") -> str:
    to_key = answers.summary.get("shared", {}).get("clock_to_key", "")
    return f"{to_key} ({answers.setting.legal_zone})" if to_key else answers.setting.legal_zone


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
