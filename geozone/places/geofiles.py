"""Map files (GeoJSON, GeoPackage, Shapefile, FlatGeobuf, GeoParquet) read without trusting them.

GDAL opens by content, whatever a name says, and some of its formats are instructions that fetch or run things.
So each file is looked at first; what GDAL reads, it reads with one driver in a process of its own (`onedriver`).
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import shapely

from ..errors import InputError
from . import limits, projections
from .databases import check_database
from .endings import DRIVERS, JSON_ENDINGS, PARQUET_ENDINGS
from .geojson import read_geojson
from .packed import unpack

_MAGIC = {".gpkg": (b"SQLite format 3\x00", "GeoPackage"), ".fgb": (b"fgb\x03fgb", "FlatGeobuf"),
          ".shp": (b"\x00\x00\x27\x0a", "Shapefile"), ".zip": (b"PK", "zip archive"),
          ".parquet": (b"PAR1", "Parquet"), ".geoparquet": (b"PAR1", "Parquet")}
_SHAPE_PARTS = (".shp", ".shx", ".dbf", ".prj", ".cpg")
#: How a coordinate reference system begins in WKT, of ESRI's kind or ISO 19162.
_WKT = re.compile(r"\s*(?:GEOGCS|PROJCS|COMPD_CS|GEOCCS|LOCAL_CS|GEOG\w*CRS|PROJ\w*CRS|GEODCRS|BOUNDCRS|COMPOUNDCRS)\s*\[",
                  re.IGNORECASE)
_MOST_PRJ_BYTES = 100_000
#: How long a file may take to be read: a start, and what a slow disk and machine need [s].
READING_S, READING_S_PER_MB = 15.0, 2.0


def read_layers(path: Path, layer: str | None = None,
                encoding: str | None = None) -> list[tuple[str, pd.DataFrame, tuple[str, ...]]]:
    """Every layer of a map file: its name, its table and notes.

    Parameters
    ----------
    path : Path
        An existing file with one of the extensions in `DRIVERS`.
    layer : str, optional
        Read only this layer.
    encoding : str, optional
        Encoding of a Shapefile's table when its .cpg is missing or wrong.

    Returns
    -------
    list of (str, GeoDataFrame or DataFrame, tuple of str)
        A layer without geometry comes as a plain DataFrame. Features keep the order of the file.

    Raises
    ------
    InputError
        If the file is not what its name says, is damaged, or has no such layer.
    """
    ending = path.suffix.lower()
    limits.check_size(path)
    _check_magic(path, ending, path.name)
    if ending in PARQUET_ENDINGS:
        return [(path.stem, _read_parquet(path), ())]
    if ending in JSON_ENDINGS:
        return [read_geojson(path)]
    with tempfile.TemporaryDirectory(prefix="geozone-") as temporary:
        folder = Path(temporary)
        if ending == ".zip":
            return _read_zip(path, folder, layer, encoding)
        parts = _beside(path, _SHAPE_PARTS if ending == ".shp" else (ending, ending + "-wal"))
        if ending == ".shp":
            notes = _shape_copy(parts, folder, path.name)
            return [(path.stem, frame, notes + more) for _, frame, more in
                    _read_apart(folder / "list.shp", path.name, None, encoding)]
        # A copy: what was looked at is what is read, and nothing is written beside the user's file.
        for part in parts.values():
            shutil.copyfile(part, folder / ("list" + part.name[len(path.stem):].lower()))
        copy = folder / ("list" + ending)
        if ending == ".gpkg":
            check_database(copy, path.name)
        # the name of a FlatGeobuf's only layer is chance
        return _read_apart(copy, path.name, None if ending == ".fgb" else layer, encoding)


def _check_magic(path: Path, ending: str, file: str) -> None:
    if ending in _MAGIC:
        magic, kind = _MAGIC[ending]
        with path.open("rb") as stream:
            start = stream.read(len(magic))
        if start != magic:
            raise InputError(f"this is not a {kind}, whatever its name says", where=file, value=repr(start),
                             next_step="export it again, or give it the extension of its real format")


def parts_beside(path: Path) -> dict[str, Path]:
    """A file and those beside it that are read with it, by their ending; empty ones, which looking at a database leaves, are not among them.

    Raises
    ------
    InputError
        If one of them is no plain file, or too large.
    """
    ending = path.suffix.lower()
    found = _beside(path, _SHAPE_PARTS if ending == ".shp" else (ending, ending + "-wal"))
    return {name: part for name, part in found.items() if part.stat().st_size}


def _beside(path: Path, endings: tuple[str, ...]) -> dict[str, Path]:
    """The parts of a map file by their ending, plain files only."""
    found = {}
    for part in sorted(path.parent.iterdir()):
        ending = part.name[len(path.stem):].lower()
        if part.name.startswith(path.stem) and ending in endings and (part == path or ending not in found):
            limits.check_size(part)
            found[ending] = part
    return found


def _read_zip(path: Path, folder: Path, layer: str | None, encoding: str | None):
    unpacked = unpack(path, folder / "zip", _SHAPE_PARTS)
    shapes = [p for p in unpacked if p.suffix.lower() == ".shp"]
    if not shapes:
        raise InputError("the archive holds no Shapefile (.shp)", where=path.name,
                         next_step="other formats go unpacked: give the file inside")
    names = [p.relative_to(folder / "zip").with_suffix("").as_posix() for p in shapes]
    if len({Path(n).name for n in names}) == len(names):
        names = [Path(n).name for n in names]
    _check_layer(layer, names, path.name)
    found = []
    for number, (name, shape) in enumerate(zip(names, shapes)):
        if layer in (None, name):
            apart = folder / f"layer{number}"
            apart.mkdir()
            notes = _shape_copy(_beside(shape, _SHAPE_PARTS), apart, path.name)
            found += [(name, frame, notes + more) for _, frame, more in
                      _read_apart(apart / "list.shp", path.name, None, encoding)]
    return found


def _shape_copy(parts: dict[str, Path], folder: Path, file: str) -> tuple[str, ...]:
    """Copy the parts of a Shapefile, each looked at, to a folder where nothing else lies; notes on what was left out."""
    missing = [part for part in (".shx", ".dbf") if part not in parts]
    if missing:
        raise InputError(f"the Shapefile is not whole: {' and '.join(missing)} missing beside it", where=file,
                         rule="a Shapefile is several files of one name: .shp, .shx, .dbf and .prj",
                         next_step="copy all of them, or zip them and give the .zip")
    _check_magic(parts[".shp"], ".shp", file)
    notes: tuple[str, ...] = ()
    for ending, part in parts.items():
        if ending in (".prj", ".cpg"):
            text = part.read_bytes()[:_MOST_PRJ_BYTES].decode("utf-8-sig", errors="replace")
            if ending == ".prj" and not _WKT.match(text) or "\x00" in text:
                notes += (f"{file}: its {ending} is not the text that it should be and is not used",)
                continue
            if ending == ".prj":
                projections.as_crs(text, file)
        shutil.copyfile(part, folder / ("list" + ending))
    return notes


def _check_layer(layer: str | None, names: list[str], file: str) -> None:
    if layer is not None and layer not in names:
        raise InputError("the file has no such layer", where=file, value=layer,
                         rule="its layers: " + ", ".join(repr(n) for n in names),
                         next_step="state one of them as [reading] layer")


def _damaged(file: str, why: object) -> InputError:
    return InputError("the file is damaged and cannot be read", where=file,
                      value=str(why)[:200], next_step="export it again")


def _read_apart(copy: Path, file: str, layer: str | None, encoding: str | None):
    """The layers of a private copy, read by `onedriver` in a process of its own."""
    size = sum(part.stat().st_size for part in copy.parent.iterdir() if part.is_file())
    driver = DRIVERS[copy.suffix]
    request = {"path": str(copy), "driver": driver, "layer": layer, "encoding": encoding, "bytes": size,
               "only": driver != "GPKG", "most_rows": limits.MOST_ROWS, "most_columns": limits.MOST_COLUMNS,
               "result": str(copy.parent / "read")}
    try:
        done = subprocess.run([sys.executable, "-P", "-m", "geozone.places.onedriver"], input=json.dumps(request).encode(),
                              stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, env=_environment(driver),
                              cwd=copy.parent, timeout=READING_S + READING_S_PER_MB * size / 1e6, check=True)
        answer = json.loads(done.stdout)
    except subprocess.TimeoutExpired:
        raise _damaged(file, "reading it does not end") from None
    except subprocess.CalledProcessError as why:
        raise _damaged(file, f"reading it broke off, code {why.returncode}") from None
    except ValueError:
        raise _damaged(file, "reading it gave no answer") from None
    except OSError as why:
        raise InputError("the part that reads map files cannot be started", where=file, value=why.strerror,
                         next_step="give the list as GeoJSON or CSV") from None
    if answer.get("kind") == "large":
        raise InputError("the layer is larger than a list of sites or outlines can be, or damaged", where=file,
                         value=answer["failed"],
                         rule=f"at most {limits.MOST_ROWS:,} features and {limits.MOST_COLUMNS:,} columns",
                         next_step="export only what is needed")
    if "failed" in answer:
        raise _damaged(file, answer["failed"].replace(str(copy), file))
    if not answer["names"]:
        raise _damaged(file, "it holds no layer")
    _check_layer(layer, answer["names"], file)
    return [(part["name"], *_table(part, file)) for part in answer["layers"]]


def _environment(driver: str) -> dict[str, str]:
    """For a process that has one driver and calls nobody; the user's own settings for GDAL do not reach it."""
    kept = {name: value for name, value in os.environ.items()
            if name in ("GDAL_DATA", "PROJ_DATA", "PROJ_LIB")
            or not re.match(r"GDAL_|OGR_|CPL_|VSI|AWS_|GS_|OSS_|AZURE_|SWIFT_|PROJ_|PYTHON", name, re.IGNORECASE)}
    skipped = ",".join(name for name in pyogrio.list_drivers() if name != driver) + ","
    return {**kept, "PYTHONPATH": os.pathsep.join(filter(None, sys.path)), "GDAL_SKIP": skipped, "GDAL_DRIVER_PATH": "disable",
            "CPL_VSIL_CURL_ALLOWED_EXTENSIONS": "{none}", "PROJ_NETWORK": "OFF", "GDAL_PAM_ENABLED": "NO",
            "OGR_SQLITE_ALLOW_EXTERNAL_ACCESS": "NO", "GDAL_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1",
            "PYTHONDONTWRITEBYTECODE": "1"}


def _table(part: dict, file: str) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """What `onedriver` left, as a table and notes."""
    with np.load(part["result"], allow_pickle=False) as arrays:
        columns = []
        for place, kind in enumerate(part["kinds"]):
            if f"text{place}" in arrays:
                texts = [None if raw is None else raw.decode("utf-8", "replace") for raw in _unpacked(arrays, f"text{place}")]
                columns.append(_dates(texts) if kind.startswith("datetime") else pd.Series(texts, dtype=object))
            elif f"time{place}" in arrays:
                columns.append(pd.Series(arrays[f"time{place}"].astype("datetime64[ms]")))
            else:
                columns.append(pd.Series(arrays[f"number{place}"]))
        shapes = _unpacked(arrays, "shape") if "shape" in arrays else None
    frame = pd.concat(columns, axis=1) if columns else pd.DataFrame(index=range(part["rows"]))
    frame.columns = part["fields"]
    notes = tuple(f"{file}: {text[:200]}" for text in part["remarks"] if "Measured (M)" not in text)
    if shapes is None:
        return frame, tuple(dict.fromkeys(notes))
    try:
        with np.errstate(all="ignore"):  # coordinates that are no number: found and said later, row by row
            geometry = shapely.from_wkb(shapes, on_invalid="ignore")
    except (shapely.errors.GEOSException, ValueError, TypeError) as why:
        raise _damaged(file, why) from None
    if shapely.get_num_coordinates(geometry).sum() > limits.MOST_CORNERS:
        raise InputError("the outlines have more corners than can be worked with", where=file,
                         rule=f"at most {limits.MOST_CORNERS:,}", next_step="simplify them in a GIS program")
    crs = None
    if part["crs"]:
        try:
            crs = projections.as_crs(part["crs"], file)
        except InputError:  # a local or vertical system: as if none were named
            notes += (f"{file}: the coordinate reference system that it names cannot be used, so it counts as none",)
    return gpd.GeoDataFrame(frame, geometry=geometry, crs=crs), tuple(dict.fromkeys(notes))


def _unpacked(arrays, name: str) -> list[bytes | None]:
    data, ends = arrays[name].tobytes(), np.cumsum(np.maximum(arrays[name + "_length"], 0))
    return [None if length < 0 else data[end - length:end]
            for end, length in zip(ends.tolist(), arrays[name + "_length"].tolist())]


def _dates(texts: list[str | None]) -> pd.Series:
    """Dates as dates; as the text that stands there where one of them is none."""
    try:
        found = pd.to_datetime(pd.Series(texts, dtype=object), format="ISO8601")
    except (ValueError, OverflowError):
        found = None
    return found if found is not None and found.dtype != object else pd.Series(texts, dtype=object)


def _read_parquet(path: Path) -> pd.DataFrame:
    try:
        import pyarrow.parquet
    except ImportError:
        raise InputError("GeoParquet needs a part that is not installed", where=path.name,
                         rule="the extra 'parquet' brings it",
                         next_step="pip install 'geozone[parquet]', or export the list as GeoPackage") from None
    try:
        held = pyarrow.parquet.read_metadata(path)
        told = json.loads((held.metadata or {}).get(b"geo", b"{}"))
    except Exception as why:  # pyarrow raises many kinds
        raise _damaged(path.name, why) from None
    limits.check_table(held.num_rows, held.num_columns, path.name)
    size = sum(held.row_group(i).total_byte_size for i in range(held.num_row_groups))
    if size > limits.MOST_FILE_BYTES:
        raise InputError("the file unpacks to more than a list of sites or outlines can be", where=path.name,
                         value=f"{size / 1e6:,.0f} MB", rule=f"at most {limits.MOST_FILE_BYTES / 1e6:,.0f} MB",
                         next_step="export only what is needed")
    columns = told.get("columns") if isinstance(told, dict) else None
    for column in columns.values() if isinstance(columns, dict) else ():
        crs = column.get("crs") if isinstance(column, dict) else None
        if crs is not None:  # PROJJSON by the GeoParquet specification (1.1); a text could name a file or an address
            projections.as_crs(crs if isinstance(crs, str) else json.dumps(crs), path.name)
    try:
        return gpd.read_parquet(path) if columns else pd.read_parquet(path)
    except Exception as first:
        try:
            return pd.read_parquet(path)  # a plain Parquet table is still a table
        except Exception:
            raise _damaged(path.name, first) from None
