"""Makes geozone/README.md, the page of the public names, from the docstrings and the models of the job file.

    python tests/docs/api_page.py
"""

from __future__ import annotations

import inspect
import re
from enum import Enum
from pathlib import Path

import geozone
from geozone.jobs.job import JobFile
from geozone.jobs.keys import keys_of, sections_in

PAGE = Path(geozone.__file__).parent / "README.md"

TOPICS = {
    "A whole plan": "Job read_job compute run write_map",
    "Tables of sites and outlines": "read_sites SiteReading read_areas add_legal_time clock_rules sites_in_areas hull_area cut_areas "
                                    "zone_polygons zone_boundaries",
    "One shared setting": "Basis DarkThreshold Setting Keypad Tolerance site_drift setting_drift Drift best_shared_setting best_keying",
    "The fewest settings": "groups_of group_hulls",
    "Lighting zones, and settings for new places": "ground_units zones_of which",
    "Dusk and dawn": "switch_times SwitchTimes State altitude_deg_for illuminance_lx",
    "Over the ground": "solar_lattice area_spread drift_field drift_lines dusk_lines",
    "Switching programmes": "Programme Event Season Holidays Tariff Conditions site_hours lit_hours Switch foolish_nights cure_of "
                            "dated_timetable",
    "What went wrong": "GeozoneError InputError OutputError",
}

HEAD = '''# geozone from Python

Everything here is imported from `geozone` itself: `geozone.site_drift`. Functions over tables take any GeoDataFrame of points, in
any coordinate system, and add legal time where it is missing; the result has the table's own index. A mistake raises
`InputError`, which says what is wrong and, as far as it is known, where, with which value, by which rule, and what to do next.

This page is made from the docstrings by `tests/docs/api_page.py`; the tests compare it with them and run its examples.

## One worked example

Three sites, one setting keyed near the mill: which sites does it serve, and how many settings serve them all?

```python
>>> import geopandas
>>> import geozone
>>> sites = geopandas.GeoDataFrame(
...     {"site_id": ["mill", "weir", "school"]},
...     geometry=geopandas.points_from_xy([139.0, 140.2, 141.4], [-35.0, -34.2, -35.1]), crs="EPSG:4326")
>>> setting = geozone.Setting(-35.0, 139.2, "Australia/Adelaide")
>>> basis = geozone.Basis(2027, geozone.DarkThreshold(-4.0), geozone.Tolerance(dark_min=5, excess_min=10))
>>> drift = geozone.site_drift(sites, setting, basis)
>>> drift[["worst_dark_min", "worst_excess_min", "result"]].round(1)
   worst_dark_min  worst_excess_min       result
0             0.8               0.8       within
1             6.4               5.9       beyond
2            21.4              21.5  other clock
>>> plan = geozone.groups_of(sites, basis)
>>> plan.count, plan.proved, list(plan.group_of_site)
(2, True, ['A', 'A', 'B'])
```

The school lies across the border and keeps another clock. `plan.proved` says that no fewer settings will do.

The same as a whole plan, with the map and the tables; `geozone.run(job, "out")` writes the folder that the command line writes:

```python
>>> job = geozone.Job.of(sites, title="Three sites", year=2027, dark={"altitude_deg": -4.0},
...                      shared={"lat_deg": -35.0, "lon_deg": 139.2, "legal_zone": "Australia/Adelaide"})
>>> answers = geozone.compute(job)
>>> answers.sites[["site_id", "result"]].to_numpy().tolist()
[['mill', 'within'], ['weir', 'beyond'], ['school', 'other clock']]
```

'''


def page() -> str:
    """The whole page."""
    parts = [HEAD, "## Names\n\n"]
    for topic, names in TOPICS.items():
        parts.append(f"- **{topic}:** " + ", ".join(f"[`{name}`](#{name.lower()})" for name in names.split()) + "\n")
    parts.append("- **[Keys of the job file](#keys-of-the-job-file)**\n")
    for topic, names in TOPICS.items():
        parts.append(f"\n## {topic}\n")
        parts += [entry(name) for name in names.split()]
    return "".join(parts) + "\n" + key_table()


def entry(name: str) -> str:
    """One public name: its signature and its docstring."""
    found = getattr(geozone, name)
    text = f"\n### {name}\n\n"
    if not (inspect.isclass(found) and issubclass(found, (BaseException, Enum)) or name == "Job"):
        text += f"```text\n{signature(name, found)}\n```\n\n"
    text += markdown(inspect.getdoc(found))
    for member in vars(found) if inspect.isclass(found) else ():
        inner = getattr(found, member)
        if inspect.isroutine(inner) and callable(inner) and not member.startswith("_") and inspect.getdoc(inner) and member not in ("beside", "source"):
            text += f"\n\n**`{name}.{member}`**\n\n```text\n{signature(f'{name}.{member}', inner)}\n```\n\n{markdown(inspect.getdoc(inner))}"
    return text + "\n"


def signature(name: str, found) -> str:
    """A call as it is written in the code, broken where it is long; defaults that are records by their call."""
    parts, seen_star = [], False
    for one in inspect.signature(found).parameters.values():
        if one.name == "self":
            continue
        if one.kind is one.KEYWORD_ONLY and not seen_star:
            parts, seen_star = [*parts, "*"], True
        star = "**" if one.kind is one.VAR_KEYWORD else ""
        default = "" if one.default is one.empty else f"={_default(one.default)}"
        parts.append(f"{star}{one.name}{default}")
    line = f"{name}({', '.join(parts)})"
    if len(line) <= 110:
        return line
    lines, now = [], f"{name}("
    for i, part in enumerate(parts):
        part += "," if i < len(parts) - 1 else ")"
        if len(now) + len(part) > 110:
            lines.append(now.rstrip())
            now = " " * (len(name) + 1)
        now += part + " "
    return "\n".join([*lines, now.rstrip()])


def _default(value) -> str:
    text = repr(value)
    if callable(value):
        return getattr(value, "__name__", text).replace("<lambda>", "...")
    if re.match(r"\w+\(", text) and len(text) > 30:
        return f"{type(value).__name__}(...)" if value != _plain(value) else f"{type(value).__name__}()"
    return text


def _plain(value):
    try:
        return type(value)()
    except Exception:  # a record without a default of its own
        return None


def markdown(doc: str) -> str:
    """A numpydoc docstring as Markdown: headings bold, parameters as a list, examples as code."""
    out = []
    for part in re.split(r"(?m)^(?=[^\n]+\n-{3,}\n)", doc):
        head = re.match(r"([^\n]+)\n-{3,}\n", part)
        body = part[head.end():] if head else part
        if head:
            out.append(f"**{head[1]}**")
        if head and head[1] == "Examples":
            out.append(f"```python\n{body.strip()}\n```")
        elif head and head[1] in ("Parameters", "Attributes", "Returns", "Raises"):
            out.append(_listed(body))
        else:
            out.append(body.strip())
    return "\n\n".join(out)


def _listed(body: str) -> str:
    lines = []
    for block in re.split(r"(?m)^(?=\S)", body):
        if block.strip():
            head, _, rest = block.partition("\n")
            name, colon, kind = head.partition(" : ")
            text = " ".join(rest.split())
            lines.append(f"- `{name}`" + (f" ({kind})" if colon else "") + (f": {text}" if text else ""))
    return "\n".join(lines)


def key_table() -> str:
    """Every key of the job file, from the models."""
    sentences = {".".join(path): model.__doc__ for path, model in sections_in(JobFile).items() if path}
    lines = ["## Keys of the job file\n", "\n`Job.of` takes the sections as dicts of these keys.\n"]
    now = None
    for key in keys_of(JobFile):
        if key.section != now:
            now = key.section
            lines += [f"\n**{'[[' if key.many else '['}{now}{']]' if key.many else ']'}**", f" {sentences[now].split(': ', 1)[-1].strip()}\n",
                      "\n| key | what it is | what may stand there | left out |\n|---|---|---|---|\n"]
        kind = key.kind.replace("|", "\\|")
        lines.append(f"| `{key.name}` | {key.sentence} | {kind} | {'**required**' if key.default == 'required' else f'`{key.default}`' if key.default else ''} |\n")
    return "".join(lines)


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8", newline="\n")
