"""A document and tables in one file of plain data: what a run keeps for a later command.

A zip archive in which nothing can be carried out. Numbers are flat arrays, low byte first; texts are UTF-8 end to end with the
length of each, shapes are WKB in the same way; the document is JSON. The reader names every table and column that it wants: what
is missing, or there besides, makes the file a damaged one.
"""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from collections.abc import Mapping
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from ..places.limits import MOST_CORNERS, MOST_ROWS

#: Kinds of columns: the array that holds a value each, or the lengths of texts and shapes.
NUMBER, WHOLE, FLAG, TEXT, SHAPE = "number", "whole", "flag", "text", "shape"
_DTYPES = {NUMBER: "<f8", WHOLE: "<i8", FLAG: "u1", TEXT: "<i8", SHAPE: "<i8"}
#: Unpacked; a million sites with outlines of a million corners take some 200 MB.
MOST_BYTES = 1_000_000_000
_MOST_DOCUMENT_BYTES = 50_000_000
_DOCUMENT = "document.json"
# The same bytes for the same content: no time of day, no system.
_WHEN = (1980, 1, 1, 0, 0, 0)
# Geometry collections in one another: the library reads each in a call of its own, and 100,000 of them end the process.
_DEEPEST = 4

Columns = Mapping[str, str]


class DamagedError(ValueError):
    """The file is not one that `packed` wrote; the text says in which way."""


class TooLargeError(ValueError):
    """There is more to keep than the reader takes."""


def packed(document: bytes, tables: Mapping[str, pd.DataFrame], declared: Mapping[str, Columns]) -> bytes:
    """The file as bytes; the same for the same content.

    Parameters
    ----------
    document : bytes
        JSON.
    tables : mapping of str to DataFrame
    declared : mapping of str to columns
        For each table its columns and their kinds; other columns are left out. A shape may be None.

    Raises
    ------
    TooLargeError
        If `unpacked` would refuse it for its size.
    """
    parts = {_DOCUMENT: document}
    for name, table in tables.items():
        for column, kind in declared[name].items():
            parts.update(_parts(f"{name}/{column}", kind, table[column]))
    if sum(map(len, parts.values())) > MOST_BYTES or len(document) > _MOST_DOCUMENT_BYTES:
        raise TooLargeError(f"{sum(map(len, parts.values())) / 1e6:,.0f} MB to keep, at most {MOST_BYTES / 1e6:,.0f} MB")
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w") as archive:
        for name, content in parts.items():
            member = zipfile.ZipInfo(name, _WHEN)
            member.compress_type, member.create_system, member.external_attr = zipfile.ZIP_DEFLATED, 3, 0o644 << 16
            archive.writestr(member, content)
    return target.getvalue()


class Unpacked:
    """A file that `packed` wrote, read part by part: a context manager.

    Parameters
    ----------
    path : Path

    Raises
    ------
    DamagedError
        Here and from `document` and `table`, for whatever else the file may be. OSError if it cannot be opened.
    """

    def __init__(self, path: Path):
        self._stream = open(path, "rb")  # noqa: SIM115 (closed by the context)
        try:
            self._archive = _checked(lambda: zipfile.ZipFile(self._stream))
            members = self._archive.infolist()
            self._left = {one.filename for one in members}
            if len(self._left) != len(members):
                raise DamagedError("two parts of one name")
            if sum(one.file_size for one in members) > MOST_BYTES:
                raise DamagedError(f"it unpacks to more than {MOST_BYTES / 1e6:,.0f} MB")
        except BaseException:
            self._stream.close()
            raise

    def __enter__(self) -> "Unpacked":
        return self

    def __exit__(self, *_) -> None:
        self._stream.close()

    def document(self) -> bytes:
        """The document, as it was given."""
        return self._read(_DOCUMENT, _MOST_DOCUMENT_BYTES)

    def table(self, name: str, columns: Columns) -> pd.DataFrame:
        """A table with these columns; a GeoDataFrame in longitude and latitude where one of them holds shapes."""
        found = {column: self._column(f"{name}/{column}", kind) for column, kind in columns.items()}
        lengths = {len(values) for values in found.values()}
        if len(lengths) > 1 or max(lengths, default=0) > MOST_ROWS:
            raise DamagedError(f"{name}: columns of {', '.join(map(str, sorted(lengths)))} rows")
        shapes = next((column for column, kind in columns.items() if kind == SHAPE), None)
        return pd.DataFrame(found) if shapes is None else gpd.GeoDataFrame(found, geometry=shapes, crs="EPSG:4326")

    def end(self) -> None:
        """Refuse a file with parts that nobody asked for."""
        if self._left:
            raise DamagedError(f"a part that no run writes: {min(self._left)[:60]!r}")

    def _column(self, name: str, kind: str) -> np.ndarray:
        values = self._array(f"{name}.{kind}", _DTYPES[kind])
        if kind == FLAG:
            if (values > 1).any():
                raise DamagedError(f"{name}: a flag that is neither 0 nor 1")
            return values.astype(bool)
        if kind not in (TEXT, SHAPE):
            return values
        content = self._read(f"{name}.bytes")
        if (values < 0).any() or (values > len(content)).any() or int(values.sum()) != len(content):
            raise DamagedError(f"{name}: lengths that are not those of its content")
        ends = np.cumsum(values).tolist()
        pieces = [content[end - length:end] for end, length in zip(ends, values.tolist(), strict=True)]
        return _texts(pieces, name) if kind == TEXT else _shapes(pieces, name)

    def _array(self, name: str, dtype: str) -> np.ndarray:
        content = self._read(name)
        if len(content) % np.dtype(dtype).itemsize:
            raise DamagedError(f"{name}: a number is cut off")
        values = np.frombuffer(content, dtype)
        return values.astype(values.dtype.newbyteorder("="))

    def _read(self, name: str, most: int = MOST_BYTES) -> bytes:
        if name not in self._left:
            raise DamagedError(f"{name} is missing")
        self._left.discard(name)
        member = self._archive.getinfo(name)
        if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED) or member.flag_bits & 1 or member.file_size > most:
            raise DamagedError(f"{name} is packed in a way that no run uses")

        def read() -> bytes:
            with self._archive.open(member) as stream:
                return stream.read(member.file_size + 1)

        content = _checked(read)
        if len(content) != member.file_size:
            raise DamagedError(f"{name} is longer or shorter than it says")
        return content


def _parts(name: str, kind: str, values: pd.Series) -> dict[str, bytes]:
    if kind not in (TEXT, SHAPE):
        return {f"{name}.{kind}": np.asarray(values).astype(_DTYPES[kind]).tobytes()}
    if kind == TEXT:
        pieces = [str(value).encode("utf-8", "surrogatepass") for value in values]
    else:
        pieces = [b"" if shape is None else shape for shape in shapely.to_wkb(np.asarray(values, dtype=object), output_dimension=2, byte_order=1)]
    return {f"{name}.{kind}": np.array([len(piece) for piece in pieces], dtype=_DTYPES[kind]).tobytes(), f"{name}.bytes": b"".join(pieces)}


def _texts(pieces: list[bytes], name: str) -> np.ndarray:
    texts = np.empty(len(pieces), dtype=object)
    try:
        texts[:] = [piece.decode("utf-8", "surrogatepass") for piece in pieces]
    except UnicodeDecodeError as why:
        raise DamagedError(f"{name}: no UTF-8 ({why.reason})") from None
    return texts


def _shapes(pieces: list[bytes], name: str) -> np.ndarray:
    try:
        for piece in pieces:
            if piece and _shape_end(piece) != len(piece):
                raise DamagedError(f"{name}: a shape with more behind it")
        shapes = shapely.from_wkb(np.array([piece or None for piece in pieces], dtype=object))
    except (struct.error, shapely.errors.ShapelyError, ValueError) as why:
        raise DamagedError(f"{name}: a shape that cannot be read ({str(why)[:80]})") from None
    corners = shapely.get_coordinates(shapes)
    if len(corners) > MOST_CORNERS or not np.isfinite(corners).all():
        raise DamagedError(f"{name}: corners that are none")
    return np.atleast_1d(shapes)


def _shape_end(wkb: bytes) -> int:
    """Where a shape ends, gone through without a call in a call; struct.error or ValueError where it has no end."""
    at, open_counts = 0, [1]
    while open_counts:
        if not open_counts[-1]:
            open_counts.pop()
            continue
        open_counts[-1] -= 1
        order, kind = struct.unpack_from("<BI", wkb, at)
        at += 5
        if order != 1 or not 1 <= kind <= 7 or len(open_counts) > _DEEPEST:
            raise ValueError("no shape in the plane")
        if kind == 1:
            at += 16
        elif kind == 2:
            at += 4 + 16 * struct.unpack_from("<I", wkb, at)[0]
        elif kind == 3:
            rings, at = struct.unpack_from("<I", wkb, at)[0], at + 4
            for _ in range(rings):
                at += 4 + 16 * struct.unpack_from("<I", wkb, at)[0]
        else:
            open_counts.append(struct.unpack_from("<I", wkb, at)[0])
            at += 4
    return at


def _checked(read):
    """What `read` returns; whatever a damaged archive makes the library raise is one kind of error."""
    try:
        return read()
    except (zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, struct.error, EOFError, NotImplementedError, RuntimeError, ValueError,
            OverflowError, KeyError, IndexError, OSError, MemoryError) as why:
        raise DamagedError(f"no archive that can be read ({str(why)[:80] or type(why).__name__})") from None
