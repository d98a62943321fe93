"""The tables of an audit as files: CSV, a workbook, a GeoPackage with its looks."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import pandas as pd

from ..answers import Answers
from ..schema.tables import check_table, table_named
from .geopackage import Layer, write_geopackage
from .looks import area_look, audit_look
from .spreadsheets import write_csv
from .workbook import Sheet, write_xlsx


def write_audit_files(tables: dict[str, pd.DataFrame], answers: Answers, folder: Path) -> None:
    """Write the tables of an audit into an existing folder.

    Parameters
    ----------
    tables : dict of str to pandas.DataFrame
        By their declared names; "audit" has a row for each site of the plan, in its order.
    answers : Answers
    folder : pathlib.Path

    Raises
    ------
    OSError
        If the disk refuses.
    """
    step = answers.keypad.coordinate_step_deg
    for name, table in tables.items():
        check_table(name, table)
        write_csv(table, folder / f"{name}.csv", table_named(name), answers.manner, step)
    # What is to be done comes first.
    order = [name for name in ("work", "audit", "watch", "logs", "rejects") if name in tables]
    write_xlsx([Sheet(name, tables[name], table_named(name)) for name in order], folder / "audit.xlsx", f"{answers.title}: audit", step)
    sites, work = answers.sites, tables["work"]
    audit = gpd.GeoDataFrame(tables["audit"], geometry=gpd.points_from_xy(sites["lon_deg"], sites["lat_deg"]), crs=4326)
    layers = [Layer("areas", answers.areas, "MultiPolygon", area_look()),
              Layer("audit", audit, "Point", audit_look()),
              Layer("work", gpd.GeoDataFrame(work, geometry=gpd.points_from_xy(work["lon_deg"], work["lat_deg"]), crs=4326), "Point", audit_look())]
    write_geopackage(folder / "audit.gpkg", layers, f"{answers.title}, {answers.year}: audit of the switches, geozone {answers.versions['geozone']}")
