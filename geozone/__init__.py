"""Where one shared dusk-to-dawn setting is good enough for outdoor lighting, and where it is not.

Names are loaded on first use, so that `import geozone` and `geozone --help` answer at once.
"""

from __future__ import annotations

__version__ = "0.1.0"

# The public functions and records, and the module that each lives in.
_HOME = {
    "Drift": "sharing.drift", "GeozoneError": "errors", "InputError": "errors", "Keypad": "trade.keypad", "OutputError": "errors",
    "Setting": "trade.setting", "SiteReading": "places.sites", "State": "numbers.sun", "SwitchTimes": "numbers.sun", "Tolerance": "trade.setting",
    "add_legal_time": "places.legalzones", "altitude_deg_for": "numbers.daylight", "best_shared_setting": "sharing.shared",
    "clock_rules": "places.legalzones", "compute": "jobs.plan", "cut_areas": "places.zonepieces", "setting_drift": "sharing.drift",
    "cure_of": "switching.cure", "dated_timetable": "switching.timetable", "drift_field": "sharing.spread", "drift_lines": "sharing.spread", "dusk_lines": "sharing.spread",
    "fewest_groups": "grouping.groups", "foolish_nights": "switching.foolish", "group_hulls": "grouping.grouphulls", "groups_of": "grouping.groups",
    "hull_area": "places.areas",
    "illuminance_lx": "numbers.daylight", "lit_hours": "switching.programme_year", "Event": "trade.programme", "Programme": "trade.programme",
    "best_keying": "trade.switchclock", "Conditions": "switching.hours", "Holidays": "trade.programme",
    "Season": "trade.programme", "Switch": "switching.foolish", "Tariff": "switching.tariff", "programme_drift": "switching.programme_year", "site_hours": "switching.hours",
    "read_areas": "places.areas", "read_job": "jobs.job", "read_sites": "places.sites", "run": "jobs.plan",
    "site_drift": "switching.sitedrift", "sites_in_areas": "places.areas", "solar_lattice": "places.lattice", "area_spread": "sharing.spread",
    "switch_times": "numbers.sun", "write_map": "screens.webmap", "zone_boundaries": "places.zonepieces", "zone_polygons": "places.zoneshapes",
}

__all__ = ["__version__", *sorted(_HOME)]


def __getattr__(name: str):
    if name in _HOME:
        from importlib import import_module

        return getattr(import_module(f".{_HOME[name]}", __name__), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__():
    return __all__
