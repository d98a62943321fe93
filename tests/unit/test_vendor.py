"""The files of others are the ones that were taken over, to the byte, and their licences are beside them."""

import hashlib
from pathlib import Path

VENDOR = Path(__file__).parents[2] / "geozone" / "screens" / "vendor"

# npm leaflet 1.9.4 and npm world-atlas 2.0.2, summed when they were unpacked from the registry's packages.
SHA256 = {
    "leaflet/LICENSE": "53e8dc25862014e4324741ca18fbe3611e11d42ef69f59f86ea8c5389647d4cb",
    "leaflet/images/layers-2x.png": "066daca850d8ffbef007af00b06eac0015728dee279c51f3cb6c716df7c42edf",
    "leaflet/images/layers.png": "1dbbe9d028e292f36fcba8f8b3a28d5e8932754fc2215b9ac69e4cdecf5107c6",
    "leaflet/images/marker-icon.png": "574c3a5cca85f4114085b6841596d62f00d7c892c7b03f28cbfa301deb1dc437",
    "leaflet/leaflet.css": "a7837102824184820dfa198d1ebcd109ff6d0ff9a2672a074b9a1b4d147d04c6",
    "leaflet/leaflet.js": "db49d009c841f5ca34a888c96511ae936fd9f5533e90d8b2c4d57596f4e5641a",
    "world/LICENSE": "8048290dfdb6e83fbed17e8985c8cfc4ce9da9b842642f3d3e497280790cfa31",
    "world/countries-50m.json": "04342cdc1e3016bcd7db1630de95684d67b79fe3c8c460321e87aef469502394",
}


def test_every_file_is_verbatim_and_known():
    found = {path.relative_to(VENDOR).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
             for path in VENDOR.rglob("*") if path.is_file() and path.parent != VENDOR}
    assert found == SHA256


def test_leaflet_is_the_stated_release():
    assert (VENDOR / "leaflet" / "leaflet.js").read_text(encoding="utf-8").startswith("/* @preserve\n * Leaflet 1.9.4")
    assert "BSD 2-Clause" in (VENDOR / "leaflet" / "LICENSE").read_text(encoding="utf-8")


def test_leaflet_cannot_end_its_block_early():
    assert "</script" not in (VENDOR / "leaflet" / "leaflet.js").read_text(encoding="utf-8").lower()
