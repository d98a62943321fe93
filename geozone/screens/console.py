"""What a run says on the terminal: progress while it lasts, the answer at the end."""

from __future__ import annotations

import sys
import time
from pathlib import Path

from ..answers import Answers
from ..errors import visible


# Ways to set the switches, as `comparison_of_settings` calls them.
_WAYS = {"own setting": "each on its own position", "groups": "with these groups", "one shared setting": "with one shared setting",
         "dusk to dawn": "from dusk to dawn everywhere, each on its own position"}

# Groups on one screen; the rest is in the table.
_GROUPS_SHOWN = 12


def silent(text: str | None) -> None:
    """Say nothing."""


def progress():
    """A function that shows what is being done on standard error; called with None at the end.

    On a terminal one line is kept up to date; elsewhere (a log file) a line is written when a step starts.
    """
    if not sys.stderr.isatty():
        return lambda text: print(f"geozone: {text} ...", file=sys.stderr) if text else None
    from rich.console import Console

    status = Console(stderr=True).status("")
    status.start()

    def say(text: str | None):
        if text is None:
            status.stop()
        else:
            status.update(text.capitalize() + " ...")

    return say


def prepare(say, parts) -> None:
    """Compile the kernels of a job's parts, and say so when they have not been compiled on this machine yet.

    Compiling takes some seconds; the result is kept in the user's cache folder, so that later runs start at once.
    """
    from . import preparing

    if not preparing.missing(parts):
        return
    say("preparing for the first run on this machine (half a minute or so, once)")
    started = time.perf_counter()
    preparing.prepare(parts)
    if time.perf_counter() - started > 90:
        print("geozone: preparing took long; is the cache folder writable?", file=sys.stderr)


def say_troubles() -> None:
    """What went wrong with the kept compiled code, on standard error: the next run will take longer, no result is touched."""
    from .. import compiled

    for text in compiled.troubles:
        print(f"geozone: {visible(text)}", file=sys.stderr)


def report(answers: Answers, out: Path, quiet: bool = False) -> str:
    """The answer of a run in one screen of plain words."""
    figures = answers.summary
    sites, drift, spread, shared = (figures[key] for key in ("sites", "drift", "spread", "shared"))
    if quiet:
        return str(out) if not sys.stdout.isatty() else visible(str(out))  # a script needs the name as it is
    lines = [f"{answers.title} ({answers.year})", ""]
    lines += [f"Sites       {sites['used']} used of {sites['read']} read"
              + (f"; {sites['rejected']} rejected, see rejects.csv" if sites["rejected"] else "")]
    lines += [f"Clock       {rule['text']}: {rule['sites']} sites ({', '.join(rule['legal_zones'])})"
              for rule in figures["clock_rules"]]
    if figures["areas_crossed"]:
        lines.append(f"            a legal-zone boundary crosses: {', '.join(figures['areas_crossed'])}")
    if sites["confirm_zone"]:
        lines.append(f"            confirm the legal zone on site at {sites['confirm_zone']} sites")
    lines.append(f"Dark        {answers.threshold_text}")
    for edge in ("dusk", "dawn"):
        if spread[f"{edge}_worst_min"] is not None:
            lines.append(f"{edge.capitalize():<11} up to {spread[f'{edge}_worst_min']:.1f} min apart over the area, "
                         f"on {spread[f'{edge}_worst_night']}")
    if spread["nights_without"]:
        lines.append(f"            {spread['nights_without']} nights without darkness or without daylight somewhere")
    lines.append(f"Setting     latitude {shared['lat_deg']:g}, longitude {shared['lon_deg']:g}, {shared['legal_zone']}, "
                 f"dusk {shared['dusk_offset_min']:+d} min, dawn {shared['dawn_offset_min']:+d} min "
                 f"({'found by geozone' if shared['found'] else 'given'})")
    tolerance = answers.tolerance
    lines.append(f"Tolerance   {tolerance.dark_min:g} min dark, {tolerance.excess_min:g} min excess at any switching")
    lines.append(f"Result      {drift['sites_within']} within, {drift['sites_beyond']} beyond, "
                 f"{drift['sites_other_clock']} on another clock")
    lines += _worst(drift["same_clock"], answers)
    if answers.groups is not None:
        lines += _groups(answers.groups)
    if answers.programmes is not None:
        lines += _programmes(answers)
    opinion = figures["second_opinion"]
    lines.append(f"Checked     {opinion['compared']} of these times recomputed by {opinion['by']}: "
                 + (f"largest difference {opinion['largest_s']:.1f} s" if opinion["compared"] else "none to compare")
                 + _grazing(opinion) + (f", {opinion['unmatched']} not found by it" if opinion["unmatched"] else ""))
    lines += ["", *(f"Note        {note}" for note in answers.notes)]
    lines += ["", f"Written     {out}", f"Map         {out / 'map.html'}"]
    return "\n".join(map(visible, lines))  # titles, names and notes hold what stands in other people's files


def _groups(groups) -> list[str]:
    """The plan: what to key in where, why not fewer, and what it saves."""
    lines = [f"Groups      {groups.headline}"]
    width = max((len(name) for name in groups.settings["group"]), default=1)
    for row in groups.settings.head(_GROUPS_SHOWN).itertuples():
        lines.append(f"            {row.group:<{width}}  latitude {row.lat_deg:g}, longitude {row.lon_deg:g}, {row.legal_zone}, "
                     f"dusk {row.dusk_offset_min:+d} min, dawn {row.dawn_offset_min:+d} min: {_counted(row.sites)}, "
                     f"worst {row.worst_dark_min:.1f} min dark, {row.worst_excess_min:.1f} min excess")
    if len(groups.settings) > _GROUPS_SHOWN:
        lines.append(f"            and {len(groups.settings) - _GROUPS_SHOWN} more in groups.csv")
    if groups.plan.witnesses.kind != "none":
        lines.append(f"            {groups.plan.witnesses.sentence}")
    for row in groups.unserved.head(_GROUPS_SHOWN).itertuples():
        lines.append(f"            no setting serves {row.unit}: that takes a tolerance of {row.dark_min:.1f} min dark and "
                     f"{row.excess_min:.1f} min excess")
    if len(groups.unserved) > _GROUPS_SHOWN:
        lines.append(f"            nor {len(groups.unserved) - _GROUPS_SHOWN} more, see unserved.csv")
    if groups.plan.existing is not None:
        found = groups.plan.existing
        saved = f"the plan saves {found.settings_saved}" if found.settings_saved > 0 else "the plan saves none"
        lines.append(f"            by {groups.existing_column} it takes {found.settings_needed} settings; {saved}")
    return lines


def _programmes(answers: Answers) -> list[str]:
    """Burning hours, what the ways to set the switches cost, and where a programme does something foolish."""
    found, lines = answers.programmes, []
    by = found.hours[found.hours["level"] == "programme"]
    width = max(len(name) for name in by["programme"])
    for place, row in enumerate(by.itertuples()):
        known = "" if row.sites_with_load == row.sites else f" ({row.sites_with_load} of {row.sites} sites have a load)"
        energy = f", {row.kwh:,.0f} kWh{known}" if row.sites_with_load else ""
        cost = f", {row.cost:,.0f} {found.currency}".rstrip() if row.sites_with_load and row.cost > 0 else ""
        lines.append(f"{'Hours' if place == 0 else '':<12}{row.programme:<{width}}  {row.lit_h:,.0f} h a year at each of "
                     f"{_counted(row.sites)}{energy}{cost}")
    for row in found.comparison.reset_index().itertuples():
        lines.append(f"            {_WAYS[row.way]}: {row.dark_h:,.0f} h dark, {row.excess_h:,.0f} h excess a year, all sites together")
    if answers.summary["hours"]["foolish_h"] >= 0.5:
        lines.append(f"            ({answers.summary['hours']['foolish_h']:,.0f} h of it are foolish nights, which no setting mends)")
    for row in found.clocks[~found.clocks["exact"]].itertuples():
        lines.append(f"Wrong clock at {_counted(row.sites)}: the keypad cannot always show their legal time, see the note and clocks.csv")
    for name, cure in found.cures.items():
        mine = found.foolish[(found.foolish["programme"] == name) & ((found.foolish["hours"] > 0) | (found.foolish["kind"] == "never happens"))]
        worst = mine.loc[mine["site_hours"].idxmax()]
        lines.append(f"Foolish     {worst['what']}")
        if len(mine) > 1:
            lines.append(f"            {name}: {len(mine) - 1} more of the kind, see foolish.csv")
        state = "a cure that was run through the year" if cure.verified else "a part cure"
        lines.append(f"            {state} is in cures.toml: {'; '.join(cure.changes) or 'nothing that could be changed'}")
    if found.timetables:
        table = answers.summary["timetable"]
        lines.append(f"Timetable   by the {table['period']}, rounded to {table['rounding_min']} min"
                     + (f": worst {table['worst_dark_min']:.1f} min dark, {table['worst_excess_min']:.1f} min excess at any site"
                        if table["sites"] else "")
                     + (", foolish programmes left out" if table["sites"] and table["sites_with_foolish_programmes"] else ""))
    return lines


def _counted(sites: int) -> str:
    return f"{sites:,} site{'' if sites == 1 else 's'}"


def _grazing(opinion: dict) -> str:
    """Where the sun only grazes the threshold, a hair of altitude is minutes of time: no alarm."""
    if opinion["compared"] and opinion["largest_steady_s"] < opinion["largest_s"] - 1.0:
        return f" where the sun grazes the threshold, {opinion['largest_steady_s']:.1f} s elsewhere"
    return ""


def _worst(worst: dict, answers: Answers) -> list[str]:
    if not worst["sites"]:
        return []
    lines = []
    for kind, word in (("dark", "dark"), ("excess", "lit too long")):
        if worst[f"worst_{kind}_min"] > 0:
            where = f"at {worst[f'worst_{kind}_site']}, {worst[f'worst_{kind}_edge']} of {worst[f'worst_{kind}_night']}"
            lines.append(f"            worst {worst[f'worst_{kind}_min']:.1f} min {word} {where}")
    return lines
