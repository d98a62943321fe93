"""Where one shared dusk-to-dawn setting is good enough for outdoor lighting, and where it is not.

Names are loaded on first use, so that `import geozone` and `geozone --help` answer at once.
"""

from __future__ import annotations

__version__ = "0.1.0"

# The public functions and records, and the module that each lives in.
_HOME = {
    "Drift": "drift", "GeozoneError": "errors", "InputError": "errors", "Keypad": "keypad", "OutputError": "errors",
    "Setting": "setting", "SiteReading": "sites", "State": "sun", "SwitchTimes": "sun", "Tolerance": "setting",
    "add_legal_time": "legalzones", "altitude_deg_for": "daylight", "best_shared_setting": "shared",
    "clock_rules": "legalzones", "compute": "plan", "cut_areas": "zonepieces", "setting_drift": "drift",
    "cure_of": "cure", "dated_timetable": "timetable", "drift_field": "spread", "drift_lines": "spread", "dusk_lines": "spread",
    "fewest_groups": "groups", "foolish_nights": "foolish", "group_hulls": "grouphulls", "groups_of": "groups",
    "hull_area": "areas",
    "illuminance_lx": "daylight", "lit_hours": "programme_year", "Event": "programme", "Programme": "programme",
    "best_keying": "switchclock", "programme_drift": "programme_year", "site_hours": "hours",
    "read_areas": "areas", "read_job": "job", "read_sites": "sites", "run": "plan",
    "site_drift": "sitedrift", "sites_in_areas": "areas", "solar_lattice": "lattice", "area_spread": "spread",
    "switch_times": "sun", "write_map": "webmap", "zone_boundaries": "zonepieces", "zone_polygons": "zoneshapes",
}

__all__ = ["__version__", *sorted(_HOME)]


def __getattr__(name: str):
    if name in _HOME:
        from importlib import import_module

        return getattr(import_module(f".{_HOME[name]}", __name__), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__():
    return __all__
