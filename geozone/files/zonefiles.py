"""Zones as GeoJSON, for whatever reads maps."""

from __future__ import annotations

import json
import math

import geopandas as gpd
import numpy as np
import shapely

from ..schema.zone_columns import ZONES

#: Decimals of a coordinate: a decimetre.
_PLACES = 6


def zones_geojson(zones: gpd.GeoDataFrame) -> bytes:
    """The table of zones by RFC 7946: WGS 84, outer rings counterclockwise, nothing beyond 180 degrees, the same bytes for the same zones."""
    features = []
    for row, shape in zip(zones.drop(columns="geometry").to_dict("records"), zones.geometry, strict=True):
        shape = shapely.orient_polygons(shapely.transform(shape, lambda xy: np.round(xy, _PLACES) + 0.0))
        features.append({"type": "Feature", "id": row["zone"], "properties": {name: _plain(name, value) for name, value in row.items()},
                         "geometry": shapely.geometry.mapping(shape)})
    return (json.dumps({"type": "FeatureCollection", "features": features}, ensure_ascii=False, allow_nan=False) + "\n").encode()


def _plain(name: str, value):
    if isinstance(value, (bool, np.bool_)):
        return bool(value)
    if isinstance(value, (float, np.floating)):
        return round(float(value), ZONES[name].places) + 0.0 if math.isfinite(value) else None
    return int(value) if isinstance(value, (int, np.integer)) else str(value)
