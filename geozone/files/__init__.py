"""Files: tables, GeoPackage, pictures, the output folder. Draws finished answers."""
