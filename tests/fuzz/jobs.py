"""Job files and small lists that are valid often enough to reach the code behind the checks."""

from __future__ import annotations

import datetime as dt
import json
from random import Random

# Where clocks, nights and longitudes are odd; zone names of the IANA time zone database.
REGIONS = {
    "border": (-34.5, 140.9, 0.6, "Australia/Adelaide"), "half hour": (-31.5, 159.1, 0.05, "Australia/Lord_Howe"),
    "white nights": (64.1, -21.9, 0.3, "Atlantic/Reykjavik"), "polar night": (78.2, 15.6, 0.1, "Arctic/Longyearbyen"),
    "evening change": (64.2, -51.7, 0.2, "America/Nuuk"), "antimeridian": (-16.8, 179.95, 0.2, "Pacific/Fiji"),
    "far east": (1.9, -157.4, 0.1, "Pacific/Kiritimati"), "equator": (0.01, 32.6, 0.2, "Africa/Kampala"),
    "fast": (28.2, -177.4, 0.1, "Pacific/Midway"), "quarter": (-43.95, -176.5, 0.05, "Pacific/Chatham"),
    "ramadan": (33.6, -7.6, 0.3, "Africa/Casablanca"), "winter time": (53.3, -6.3, 0.2, "Europe/Dublin"),
    "ice": (-77.8, 166.7, 0.1, "Antarctica/McMurdo"), "wide": (50.0, 10.0, 12.0, "Europe/Berlin"),
    "pole": (-89.9, 10.0, 0.05, "Antarctica/McMurdo")}
DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
NASTY_TEXTS = ("", " ", "\x1b[2J", "\u202egpj", "a\nb", "\u0000", "x" * 300, "=1+1", "../../x", "</script>", "'; drop", "ß", "\u0301",
               "👩‍🔧", "nan", "None", "\ufeff", "%s{}", "con", ".", "-", "a/b", "\\", "\u2028", "0", "true")
NASTY_NUMBERS = (0, -1, 1, 1e-5, 1e-300, 1e300, 2**31, 2**63, -2**63, 2**64, 0.1 + 0.2, 1e15, 720, -720, 1440, 366, 10**30)


def sites(random: Random) -> tuple[list[list], str]:
    """Headings and rows of a small list, and the legal zone where it lies."""
    lat, lon, wide, zone = REGIONS[random.choice(list(REGIONS))]
    rows = [["site_id", "name", "lat", "lon", "load_w", "regime", "cabinet", "legal_zone"]]
    lone = random.random() < 0.4
    for number in range(random.choice((1, 1, 2, 3, 5, 8, 20))):
        here_lat = max(-90.0, min(90.0, lat + random.uniform(-wide, wide)))
        here_lon = (lon + random.uniform(-wide, wide) + 180) % 360 - 180
        rows.append([f"S{number}", f"Place {number}", round(here_lat, 5), round(here_lon, 5), random.choice((100, 250.5, "", 0)),
                     "a" if lone else random.choice(("a", "b")) if random.random() < 0.98 else "", f"C{number // 3}",
                     random.choice(("", "", "", zone))])
    return rows, zone


def job(random: Random, zone: str, name: str, areas: str | None) -> dict:
    """A job of many sections, as a dict; most are valid."""
    made: dict = {"job": {"title": _title(random), "year": random.choice((2027, 2027, 2028, 1972, 2098, 2000, random.randint(1972, 2098))),
                          "sites": name}}
    if areas:
        made["job"]["areas"] = areas
    made["dark"] = random.choice(({"altitude_deg": random.choice((-4.0, -0.8333, -18.0, -30.0, 20.0, 0.0, random.uniform(-30, 20)))},
                                  {"twilight": random.choice(("sunset", "civil", "nautical"))},
                                  {"illuminance_lx": random.choice((20, 1, 100, 0.01, 10_000, 1e5))}))
    if random.random() < 0.7:
        made["tolerance"] = {"dark_min": random.choice((5, 0.1, 3, 60, 120, 1e-3)), "excess_min": random.choice((10, 0.5, 120, 6))}
    keypad = {}
    if random.random() < 0.7:
        keypad = {"coordinate_step_deg": random.choice((0.1, 1, 0.5, 5, 0.25, 0.01)),
                  "offset_limit_min": random.choice((99, 0, 30, 720, 1))}
        if random.random() < 0.3:
            keypad["utc_offsets"] = random.sample(("+09:30", "+10:00", "+00:00", "-11:00", "+14:00", "-03:30", "+05:45"),
                                                  random.choice((0, 1, 2, 3, 4, 5)))
        if random.random() < 0.3:
            keypad["daylight_saving"] = random.sample(("none", "united states", "european union", "southern australia"),
                                                      random.choice((0, 1, 2, 3, 4)))
        if random.random() < 0.2:
            keypad["event_limit"] = random.choice((1, 2, 4, 8, 10_000))
        if random.random() < 0.2:
            keypad["saving_rule"] = [{"name": random.choice(("own", "none")), "saving_min": random.choice((60, 30, 120, 1)),
                                      "start": _change(random), "end": _change(random)}]
        made["keypad"] = keypad
    if random.random() < 0.5:
        # Mostly beside the sites: a setting far from all of them is refused before anything is computed.
        near = [region for region in REGIONS.values() if region[3] == zone] if random.random() < 0.9 else list(REGIONS.values())[:-2]
        lat, lon, _, other = random.choice(near)
        made["shared"] = {"lat_deg": lat, "lon_deg": lon, "legal_zone": random.choice((zone, zone, other)),
                          "dusk_offset_min": random.choice((0, 5, -5, 99, -99)), "dawn_offset_min": random.choice((0, 10, -30)),
                          "clock": random.choice(("own", "own", "master"))}
    if random.random() < 0.5:
        made["groups"] = {"offsets": random.random() < 0.7, "curve_to": random.choice((0, 1, 2)), "time_limit_s": random.choice((0.3, 1))}
        for key, column in (("keep_together", "cabinet"), ("existing", "regime"), ("within", "cabinet")):
            if random.random() < 0.3:
                made["groups"][key] = column
    if random.random() < 0.7:
        made["programmes"] = {"column": "regime"}
        made["programme"] = [_programme(random, label, keypad) for label in ("a", "b")]
    if random.random() < 0.3:
        made["holidays"] = {"dates": [_date(random, made["job"]["year"]) for _ in range(random.randint(0, 5))],
                            "counts_as": random.choice(DAYS)}
    if random.random() < 0.3:
        made["tariff"] = {"per_kwh": random.choice((0.3, 0, 1e5)), "currency": _title(random)}
        if random.random() < 0.5:
            made["tariff"]["band"] = [{"name": _title(random), "per_kwh": 0.1, "from": _clock(random), "to": _clock(random)}]
    if random.random() < 0.3:
        made["timetable"] = {"period": random.choice(("week", "fortnight", "month")), "rounding_min": random.choice((1, 5, 10))}
    # By a die of its own, so that the other sections of a seed stay what they were.
    if Random(repr(made)).random() < 0.3:
        die = Random(repr(made))
        made["zones"] = {"time_limit_s": die.choice((0.3, 1)), "by": die.choice(("area", "free", "grid"))}
    return made


def _title(random: Random) -> str:
    return random.choice(NASTY_TEXTS) if random.random() < 0.2 else "A plain title"


def _clock(random: Random) -> str:
    return random.choice(("00:00", "24:00", "23:59", "12:00", "02:30", "23:30", "06:15",
                          f"{random.randint(0, 23):02}:{random.randint(0, 59):02}"))


def _date(random: Random, year: int) -> str:
    return (dt.date(year, 1, 1) + dt.timedelta(days=random.randint(-3, 370))).isoformat()


def _change(random: Random) -> dict:
    return {"month": random.randint(1, 12), "nth": random.choice((-1, 1, 2, 4)), "weekday": random.choice(DAYS), "at": _clock(random),
            "by": random.choice(("standard", "utc", "wall"))}


def _programme(random: Random, name: str, keypad: dict) -> dict:
    events = []
    most = keypad.get("offset_limit_min", 99) if random.random() < 0.95 else 720
    for _ in range(min(random.choice((2, 2, 3, 4, 6)), max(2, keypad.get("event_limit", 9)))):
        event = {"turn": random.choice(("on", "off")), "at": random.choice(("dusk", "dawn", _clock(random)))}
        if event["at"] in ("dusk", "dawn") and random.random() < 0.4:
            event["shift_min"] = max(-most, min(most, random.choice((0, 10, -10, 720, -720, 60, -300))))
        if random.random() < 0.3:
            event["days"] = random.choice(("all", "mon-fri", "weekend", [random.choice(DAYS)], list(DAYS)))
        if random.random() < 0.25:
            first, last = (f"{random.randint(1, 12):02}-{random.choice((1, 28, 29)):02}" for _ in range(2))
            event["season"] = {"from": first, "to": last}
        events.append(event)
    if random.random() < 0.97:
        events[0] |= {"turn": "on"}
        events[-1] |= {"turn": "off"}
    return {"name": name, "night_rule": random.choice(("night", "date")), "event": events}


def spoilt(random: Random, made: dict) -> dict:
    """Some values replaced by foolish ones, some keys renamed, taken out or doubled into another section."""
    for _ in range(random.choice((1, 1, 2, 3))):
        holder, key = _somewhere(random, made)
        if holder is None:
            continue
        what = random.random()
        if what < 0.5:
            holder[key] = random.choice((random.choice(NASTY_TEXTS), random.choice(NASTY_NUMBERS), True, [], {}, [[]], [1, "a"],
                                         {"a": {"b": 1}}, dt.date(2027, 2, 28), dt.time(2, 30), "dusk", float("inf"), float("nan")))
        elif what < 0.7 and isinstance(holder, dict):
            holder[random.choice(NASTY_TEXTS) or key + "x"] = holder.pop(key)
        elif what < 0.85:
            del holder[key]
        else:
            other, its = _somewhere(random, made)
            if other is not None:
                holder[key] = json.loads(json.dumps(other[its], default=str))
    return made


def _somewhere(random: Random, node):
    """A container and a key or place in it, anywhere in the tree."""
    spots, queue = [], [node]
    while queue:
        holder = queue.pop()
        for key, value in holder.items() if isinstance(holder, dict) else enumerate(holder):
            spots.append((holder, key))
            if isinstance(value, (dict, list)):
                queue.append(value)
    return random.choice(spots) if spots else (None, None)


def toml(made: dict) -> str:
    """A dict as TOML 1.0, every value inline below its section."""
    lines = []
    for name, section in made.items():
        if isinstance(section, dict):
            lines.append(f"[{_key(name)}]")
            lines += [f"{_key(key)} = {_value(value)}" for key, value in section.items()]
        elif isinstance(section, list) and section and all(isinstance(part, dict) for part in section):
            for part in section:
                lines.append(f"[[{_key(name)}]]")
                lines += [f"{_key(key)} = {_value(value)}" for key, value in part.items() if key != "event" or not isinstance(value, list)]
                events = part.get("event")
                for event in events if isinstance(events, list) else ():
                    lines.append(f"[[{_key(name)}.event]]")
                    lines += [f"{_key(k)} = {_value(v)}" for k, v in event.items()] if isinstance(event, dict) else [f"x = {_value(event)}"]
        else:
            lines.insert(0, f"{_key(name)} = {_value(section)}")
    return "\n".join(lines) + "\n"


def _key(name) -> str:
    name = str(name)
    return name if name and name.replace("_", "").isalnum() and name.isascii() else _text(name)


def _text(text: str) -> str:
    return json.dumps(text.encode("utf-8", "replace").decode(), ensure_ascii=True).replace("\\ud83d\\udc69", "\\U0001F469").replace(
        "\\ud83d\\udd27", "\\U0001F527")


def _value(value) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, list):
        return "[" + ", ".join(map(_value, value)) + "]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items()) + "}"
    if isinstance(value, (dt.date, dt.time)):
        return value.isoformat()
    return repr(value)
