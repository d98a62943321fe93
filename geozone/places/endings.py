"""Which files are read, by the ending of their names: the one list for the whole program."""

from __future__ import annotations

TEXT_ENDINGS = (".csv", ".tsv", ".tab", ".txt")
BOOK_ENDINGS = (".xlsx", ".xlsm", ".ods")
#: Ending of a map file to the GDAL driver that reads it; nothing else is opened.
DRIVERS = {".geojson": "GeoJSON", ".json": "GeoJSON", ".gpkg": "GPKG", ".shp": "ESRI Shapefile",
           ".zip": "ESRI Shapefile", ".fgb": "FlatGeobuf", ".parquet": "Parquet", ".geoparquet": "Parquet"}
JSON_ENDINGS = tuple(ending for ending, driver in DRIVERS.items() if driver == "GeoJSON")
PARQUET_ENDINGS = tuple(ending for ending, driver in DRIVERS.items() if driver == "Parquet")
ENDINGS = TEXT_ENDINGS + BOOK_ENDINGS + tuple(DRIVERS)
#: Lists too, but in a form that is not read.
OLD_ENDINGS = (".xls",)
#: In archives a .txt is a word from the sender, not the list.
IN_ZIP = tuple(ending for ending in ENDINGS if ending not in (".txt", ".zip", ".shp"))
