"""Which files are read, by the ending of their names: the one list for the whole program."""

from __future__ import annotations

TEXT_ENDINGS = (".csv", ".tsv", ".tab", ".txt")
BOOK_ENDINGS = (".xlsx", ".xlsm", ".ods")
#: Ending of a map file to the GDAL driver that reads it; nothing else is opened.
DRIVERS = {".geojson": "GeoJSON", ".json": "GeoJSON", ".gpkg": "GPKG", ".shp": "ESRI Shapefile",
           ".zip": "ESRI Shapefile", ".fgb": "FlatGeobuf", ".parquet": "Parquet", ".geoparquet": "Parquet"}
_SAID = {"GeoJSON": "GeoJSON", "GPKG": "GeoPackage", "ESRI Shapefile": "Shapefile", "FlatGeobuf": "FlatGeobuf", "Parquet": "GeoParquet"}
#: Map files as messages name them.
*_FIRST, _LAST = dict.fromkeys(_SAID[driver] for driver in DRIVERS.values())
MAP_FORMATS = f"{', '.join(_FIRST)} or {_LAST}"
JSON_ENDINGS = tuple(ending for ending, driver in DRIVERS.items() if driver == "GeoJSON")
PARQUET_ENDINGS = tuple(ending for ending, driver in DRIVERS.items() if driver == "Parquet")
ENDINGS = TEXT_ENDINGS + BOOK_ENDINGS + tuple(DRIVERS)
#: Lists too, but in a form that is not read.
OLD_ENDINGS = (".xls",)
#: In archives a .txt is a word from the sender, not the list.
IN_ZIP = tuple(ending for ending in ENDINGS if ending not in (".txt", ".zip", ".shp"))
