"""One GeoPackage with every layer and its default look."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import shapely

from ..schema.column import Column, Table
from ..schema.tables import TABLES
from .spreadsheets import each_text, whole_numbers, writable

# The same run must give the same bytes, so no clock reading goes into the file: every "last change" is this date.
FIXED_TIME = "2000-01-01T00:00:00.000Z"

_PLACES_DEG = 9

_RESERVED = ("fid", "geom")

_STYLE_TABLE = """
CREATE TABLE layer_styles (
  id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL,
  f_table_catalog TEXT(256), f_table_schema TEXT(256), f_table_name TEXT(256), f_geometry_column TEXT(256),
  styleName TEXT(30), styleQML TEXT, styleSLD TEXT, useAsDefault BOOLEAN, description TEXT, owner TEXT(30), ui TEXT(30),
  update_time DATETIME DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now'))
)"""

_FIELD_TABLE = """
CREATE TABLE gpkg_data_columns (
  table_name TEXT NOT NULL, column_name TEXT NOT NULL, name TEXT, title TEXT, description TEXT, mime_type TEXT,
  constraint_name TEXT,
  CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name), CONSTRAINT gdc_tn UNIQUE (table_name, name)
)"""
_CONSTRAINT_TABLE = """
CREATE TABLE gpkg_data_column_constraints (
  constraint_name TEXT NOT NULL, constraint_type TEXT NOT NULL, value TEXT, min NUMERIC, min_is_inclusive BOOLEAN, max NUMERIC,
  max_is_inclusive BOOLEAN, description TEXT,
  CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value)
)"""


@dataclass(frozen=True)
class Layer:
    """One layer of the file.

    Attributes
    ----------
    name : str
        Table name.
    table : geopandas.GeoDataFrame
        Rows; may be empty. Taken as EPSG:4326 when it has no CRS.
    geometry_type : str
        "Point", "LineString" or "MultiPolygon": one a layer, because a look is for one geometry type.
    look : str
        QML document, see `geozone.files.looks`.
    """

    name: str
    table: gpd.GeoDataFrame
    geometry_type: str
    look: str


def write_geopackage(path: Path, layers: Sequence[Layer], description: str = "") -> None:
    """Write the layers and register their looks as the default ones.

    Parameters
    ----------
    path : pathlib.Path
        File to write; must not exist.
    layers : sequence of Layer
        In the order in which a GIS lists them.
    description : str
        Kept with every layer in ``gpkg_contents``: what was computed, and with which versions.

    Raises
    ------
    OSError
        If the file cannot be written (disk full, no permission).

    Notes
    -----
    Column names that differ only by case, or that the format needs for itself (``fid``, ``geom``), get a suffix: SQLite
    cannot tell them apart. NaN, infinity and empty values become NULL. Cells that are neither number nor yes/no become text.
    Text is stored as it is: a database runs no formulas.
    """
    try:
        for layer in layers:
            table = _storable(layer.table, TABLES.get(layer.name))
            pyogrio.write_dataframe(table, path, layer=layer.name, driver="GPKG", geometry_type=layer.geometry_type,
                                    promote_to_multi=layer.geometry_type.startswith("Multi"), append=path.exists(),
                                    layer_options={"GEOMETRY_NAME": "geom", "FID": "fid"})
        _register_looks(path, layers, description)
    except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError, pyogrio.errors.FeatureError,
            sqlite3.OperationalError) as error:
        raise OSError(f"{path.name}: {error}") from error


def _register_looks(path: Path, layers: Sequence[Layer], description: str) -> None:
    connection = sqlite3.connect(path)
    try:
        _require_complete(connection, path, layers)
        with connection:
            connection.execute(_STYLE_TABLE)
            connection.execute("INSERT INTO gpkg_contents (table_name, data_type, identifier, description, last_change) "
                               "VALUES ('layer_styles', 'attributes', 'layer_styles', 'default looks', ?)", [FIXED_TIME])
            for layer in layers:
                # Empty catalogue and schema: this is how a GIS asks for the look of a file's layer.
                connection.execute(
                    "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, f_geometry_column, styleName,"
                    " styleQML, styleSLD, useAsDefault, description, owner, ui, update_time)"
                    " VALUES ('', '', ?, 'geom', ?, ?, '', 1, 'default look', '', NULL, ?)",
                    [layer.name, layer.name, layer.look, FIXED_TIME])
                declared = TABLES.get(layer.name)
                what = " ".join(filter(None, (declared.sentence if declared else None, description)))
                connection.execute("UPDATE gpkg_contents SET description = ? WHERE table_name = ?", [what, layer.name])
            _describe_fields(connection, layers)
            connection.execute("UPDATE gpkg_contents SET last_change = ?", [FIXED_TIME])
    finally:
        connection.close()


def _describe_fields(connection: sqlite3.Connection, layers: Sequence[Layer]) -> None:
    """Say what each declared field holds, in the way of the format's schema extension (OGC 12-128r18, annex F.9)."""
    connection.execute(_FIELD_TABLE)
    for name in ("gpkg_data_columns", "gpkg_data_column_constraints"):
        connection.execute("INSERT INTO gpkg_extensions (table_name, column_name, extension_name, definition, scope) "
                           "VALUES (?, NULL, 'gpkg_schema', 'http://www.geopackage.org/spec121/#extension_schema', 'read-write')",
                           [name])
    connection.execute(_CONSTRAINT_TABLE)
    for layer in layers:
        declared = TABLES.get(layer.name)
        for (field,) in connection.execute("SELECT name FROM pragma_table_info(?)", [layer.name]).fetchall():
            column = declared and declared.get(field)
            if column:
                connection.execute("INSERT INTO gpkg_data_columns (table_name, column_name, name, title, description) "
                                   "VALUES (?, ?, ?, ?, ?)",
                                   [layer.name, field, f"{layer.name}_{field}", column.heading_with_unit, column.sentence])


def _require_complete(connection: sqlite3.Connection, path: Path, layers: Sequence[Layer]) -> None:
    """Rows and spatial index of every layer are there. On a full disk GDAL loses the index, and more, without an error."""
    for layer in layers:
        drawn = int((~(layer.table.geometry.is_empty | layer.table.geometry.isna())).sum())
        for sql_table, wanted in ((layer.name, len(layer.table)), (f"rtree_{layer.name}_geom", drawn)):
            (found,) = connection.execute(f'SELECT count(*) FROM "{sql_table}"').fetchone()
            if found != wanted:
                raise OSError(f"{path.name}: {sql_table} holds {found} of {wanted} rows; is the disk full?")


def _storable(table: gpd.GeoDataFrame, declared: Table | None) -> gpd.GeoDataFrame:
    """The table with column names and cell types that the file can hold; the geometry column is last.

    Declared numbers are rounded as in the other files, and positions to a tenth of a millimetre, so that the last bit of one
    processor's arithmetic does not make another file.
    """
    geometry = table.geometry
    if geometry.crs is None:
        geometry = geometry.set_crs("EPSG:4326")
    places = [place for place, name in enumerate(table.columns) if name != geometry.name]
    names = _names([table.columns[place] for place in places])
    stored = {name: _storable_column(table.iloc[:, place], declared.get(str(table.columns[place])) if declared else None)
              for name, place in zip(names, places, strict=True)}
    shapes = shapely.transform(geometry.to_numpy(), lambda xy: np.round(xy, _PLACES_DEG) + 0.0)
    geometry = gpd.GeoSeries(shapes, index=geometry.index, crs=geometry.crs, name=geometry.name)
    return gpd.GeoDataFrame(pd.DataFrame(stored, index=table.index), geometry=geometry.rename("geom"))


def _names(columns: Sequence[object]) -> list[str]:
    taken = set(_RESERVED)
    names = []
    for column in columns:
        wanted = writable(str(column)) or "column"
        name, count = wanted, 1
        while name.lower() in taken:
            count += 1
            name = f"{wanted}_{count}"
        taken.add(name.lower())
        names.append(name)
    return names


def _storable_column(column: pd.Series, declared: Column | None = None) -> pd.Series:
    if not len(column) and declared is not None and declared.kind in ("whole", "number"):
        # A layer without rows has the fields that it always has.
        return column.astype("Int64" if declared.kind == "whole" else "float64")
    if pd.api.types.is_bool_dtype(column.dtype) and not column.hasnans:
        return column.astype(bool)
    if pd.api.types.is_integer_dtype(column.dtype) and not column.hasnans:
        return column.astype("int64")
    if pd.api.types.is_numeric_dtype(column.dtype) and not pd.api.types.is_bool_dtype(column.dtype):
        numbers = column.to_numpy(dtype="float64", na_value=np.nan)
        if whole_numbers(declared, numbers):
            # Else one site without a setting would make the field of all others one of broken numbers.
            return pd.Series(pd.array(np.where(np.isfinite(numbers), numbers, np.nan), dtype="Int64"), index=column.index)
        if declared is not None and declared.kind == "number":
            numbers = np.round(numbers, declared.places) + 0.0
        return pd.Series(np.where(np.isfinite(numbers), numbers, np.nan), index=column.index)
    return each_text(column, lambda cell: writable(str(cell)))
