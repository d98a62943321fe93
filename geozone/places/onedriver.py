"""One map file read by one driver, in a process of its own.

GDAL opens a file with whichever of its drivers likes the content, and some of them read other files or call addresses. It
takes no list of drivers through pyogrio, so this process is started without all the others, without network and with
limits on memory; `geofiles` starts it, ends it when it takes too long, and reads what it leaves. The file is a private copy.

What it leaves is plain arrays, never pickled objects: they are data even if the file had taken this process over.
"""

from __future__ import annotations

import json
import sys
import warnings

#: GDAL and Python need some of it before anything is read [byte].
MOST_MEMORY_BYTES = 6_000_000_000


class TooLarge(Exception):
    """The layer claims more features than a list can have, or than its file can hold."""


def main() -> None:
    request = json.load(sys.stdin)
    _limit_memory()
    try:
        answer = _read(request)
    except TooLarge as why:
        answer = {"failed": str(why), "kind": "large"}
    except MemoryError:
        answer = {"failed": "it needs more memory than a list of sites can", "kind": "large"}
    except Exception as why:  # whatever a damaged file makes a library raise: one kind of answer
        answer = {"failed": f"{why}" or type(why).__name__, "kind": "damaged"}
    json.dump(answer, sys.stdout)


def _limit_memory() -> None:
    try:
        import resource
        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY_BYTES, MOST_MEMORY_BYTES))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    except (ImportError, ValueError, OSError):  # not on this system; the limits on size remain
        pass


def _read(request: dict) -> dict:
    for name in ("geopandas", "pandas", "pyarrow", "pyproj", "shapely"):
        sys.modules[name] = None  # pyogrio loads them where it finds them: two seconds on a slow machine, for nothing
    import pyogrio

    there = set(pyogrio.list_drivers())
    if there != {request["driver"]}:
        raise RuntimeError(f"drivers could not be limited to {request['driver']}: {', '.join(sorted(there)[:3])}")
    path = request["path"]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the same remarks come again, and are noted, when a layer is read
        names = [str(name) for name, _ in pyogrio.list_layers(path)]
    names = [name for name in names if name != "layer_styles"]  # a table of looks that GIS programs add
    wanted = request["layer"]
    layers = []
    if wanted is None or wanted in names or request["only"]:
        for place, name in enumerate(names):
            if wanted in (None, name) or request["only"]:
                layers.append(_layer(request, name, f"{request['result']}{place}.npz"))
    return {"names": names, "layers": layers}


def _layer(request: dict, name: str, result: str) -> dict:
    import numpy as np
    import pyogrio
    import pyogrio.raw

    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        info = pyogrio.read_info(request["path"], layer=name, encoding=request["encoding"])
        if info["features"] > min(request["most_rows"], request["bytes"]) or len(info["fields"]) > request["most_columns"]:
            raise TooLarge(f"{info['features']:,} features, {len(info['fields']):,} columns")
        meta, _, shapes, columns = pyogrio.raw.read(request["path"], layer=name, encoding=request["encoding"],
                                                    force_2d=True, datetime_as_string=True)
    arrays = {}
    if shapes is not None:
        _pack(arrays, "shape", [None if s is None else bytes(s) for s in shapes])
    for place, values in enumerate(columns):
        if values.dtype == object:
            _pack(arrays, f"text{place}", [None if v is None else _text(v).encode("utf-8", "replace") for v in values])
        elif values.dtype.kind == "M":
            arrays[f"time{place}"] = values.astype("datetime64[ms]").astype(np.int64)
        else:
            arrays[f"number{place}"] = values
    np.savez(result, **arrays)
    kinds = [str(kind) for kind in meta["dtypes"]]
    return {"name": name, "fields": [str(f) for f in meta["fields"]], "kinds": kinds, "crs": meta["crs"],
            "rows": int(info["features"] if shapes is None and not len(columns) else len(columns[0] if len(columns) else shapes)),
            "result": result, "remarks": [str(w.message) for w in caught if issubclass(w.category, RuntimeWarning)]}


def _text(value) -> str:
    if isinstance(value, str):
        return value
    if isinstance(value, bytes):
        return value.hex()
    return json.dumps(value.tolist(), ensure_ascii=False, default=str) if hasattr(value, "tolist") else str(value)


def _pack(arrays: dict, name: str, values: list) -> None:
    """Texts or shapes end to end, with the length of each; -1 = none."""
    import numpy as np

    arrays[name] = np.frombuffer(b"".join(v for v in values if v), dtype=np.uint8)
    arrays[name + "_length"] = np.array([-1 if v is None else len(v) for v in values], dtype=np.int64)


if __name__ == "__main__":
    main()
