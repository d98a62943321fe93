"""What a run says on the terminal: progress while it lasts, the answer at the end."""

from __future__ import annotations

import sys
import time
from pathlib import Path

from ..answers import Answers
from ..errors import visible
from ..plurals import counted
from ..trade.keypad import keyed_text
from ..trade.setting import MOST_TOLERANCE_MIN
from ..zoning.zonetables import ground_words, parts_words
from .mapprogrammes import dearer_hours, price
from .mapwords import clock_words, minutes

# Ways to set the switches, as `comparison_of_settings` calls them.
_WAYS = {"own setting": "each on its own position", "groups": "with these groups", "one shared setting": "with one shared setting",
         "dusk to dawn": "from dusk to dawn everywhere, each on its own position"}

# Where in a night the worst lies. A night is named by the evening that it begins: its dawn comes a day later.
EDGE_WORDS = {"dusk": "dusk, night of", "dawn": "dawn, night of", "clock": "clock time, night of", "night": "all the night of"}

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

    # The usual wheel is of Braille signs, which an old code page does not have.
    wheel = "dots" if (sys.stderr.encoding or "").lower().startswith("utf") else "line"
    status = Console(stderr=True).status("", spinner=wheel)
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
        return _name(out)
    lines = [f"{answers.title} ({answers.year})", ""]
    lines += [f"Sites       {sites['used']:,} used of {sites['read']:,} read"
              + (f"; {sites['rejected']:,} rejected, see rejects.csv" if sites["rejected"] else "") if answers.listed else
              f"Sites       none listed: {counted(sites['used'], 'point')} inside the outlines {'stands' if sites['used'] == 1 else 'stand'} in and "
              f"{'is' if sites['used'] == 1 else 'are'} what “{'site' if sites['used'] == 1 else 'sites'}” means below"]
    lines.append(f"Where       {figures['where']['text']}")
    lines += [f"Clock       {rule['text']}: {counted(rule['sites'], 'site')} ({', '.join(rule['legal_zones'])})"
              for rule in figures["clock_rules"]]
    if figures["areas_crossed"]:
        lines.append(f"            a legal-zone boundary crosses: {', '.join(figures['areas_crossed'])}")
    if sites["confirm_zone"]:
        lines.append(f"            confirm the legal zone on site at {counted(sites['confirm_zone'], 'site')}")
    lines.append(f"Dark        {answers.threshold_text}")
    for edge in ("dusk", "dawn"):
        if spread[f"{edge}_worst_min"] is not None:
            lines.append(f"{edge.capitalize():<11} up to {spread[f'{edge}_worst_min']:.1f} min apart over the area, "
                         f"night of {spread[f'{edge}_worst_night']}")
    if spread["nights_without"]:
        lines.append(f"            {counted(spread['nights_without'], 'night')} without a dusk or a dawn somewhere")
    step = answers.keypad.coordinate_step_deg
    lines.append(f"Setting     latitude {keyed_text(shared['lat_deg'], step)}, longitude {keyed_text(shared['lon_deg'], step)}, "
                 f"dusk {shared['dusk_offset_min']:+d} min, dawn {shared['dawn_offset_min']:+d} min "
                 f"({'found by geozone' if shared['found'] else 'given'})")
    lines.append(f"            clock {clock_words(shared.get('clock_to_key', ''), shared['legal_zone'])}")
    if answers.search is not None:
        lines.append(f"            {answers.search.words}")
    tolerance = answers.tolerance
    lines.append(f"Tolerance   {tolerance.dark_min:g} min unlit, {tolerance.excess_min:g} min lit too long at any switching")
    # Under one master clock a site's own clock does not matter, and none is counted by it.
    other = "" if answers.clock == "master" else f", {drift['sites_other_clock']:,} on another clock"
    lines.append(f"Result      {drift['sites_within']:,} within, {drift['sites_beyond']:,} beyond{other}")
    lines += _worst(drift["same_clock"], answers)
    if answers.groups is not None:
        lines += _groups(answers.groups, step)
    if answers.zoning is not None:
        lines += _zones(answers.zoning, step)
    if answers.programmes is not None:
        lines += _programmes(answers)
    opinion = figures["second_opinion"]
    lines.append(f"Checked     {opinion['compared']} of these times against a second calculation ({opinion['by']}): "
                 + (f"largest difference {opinion['largest_s']:.1f} s" if opinion["compared"] else "none to compare")
                 + _grazing(opinion) + (f", {opinion['unmatched']} not found by it" if opinion["unmatched"] else ""))
    lines += ["", *(f"Note        {note}" for note in answers.notes)]
    lines += ["", f"Written     {out}", f"Map         {out / 'map.html'}"]
    return "\n".join(map(visible, lines))  # titles, names and notes hold what stands in other people's files


def paper_report(made, out: Path, quiet: bool = False) -> str:
    """What was made again, and where."""
    if quiet:
        return _name(out)
    lines = [f"{made.title} ({made.year})", "", f"Made again  {', '.join(made.files)}; of the others only summary.json, which names the files, was written"]
    lines += ["", *(f"Note        {remark}" for remark in made.remarks), *([""] if made.remarks else []), f"Written     {out}"]
    return "\n".join(map(visible, lines))


def audit_report(done, out: Path, quiet: bool = False) -> str:
    """The answer of an audit in one screen of plain words."""
    if quiet:
        return _name(out)
    figures = done.summary["audit"]
    states, work = figures["readings"], figures["work"]
    lines = [f"{done.title} ({done.year}): audit", "",
             f"Read        {counted(figures['read'], 'site')} of {figures['sites']:,}; the clock was checked at {figures['clock_checked']:,}"
             + (f"; {counted(figures['rejected_rows'], 'row')} of the list could not be used, see rejects.csv" if figures["rejected_rows"] else ""),
             f"Agree       {counted(states['agrees'], 'site')}" + ("; that does not prove a setting: see fits_as_well in audit.csv" if states["agrees"] else ""),
             f"Differ      {counted(states['differs'], 'site')} with slips that explain it, {states['no known slip']:,} without"]
    if "log" in figures:
        log = figures["log"]
        scattering = log["states"]["light sensor"] + log["states"]["scatters"]
        lines.append(f"Log         {counted(log['sites'], 'site')}, {counted(log['switchings'], 'switching')}: {log['states']['agrees']:,} agree, "
                     f"{log['states']['differs'] + log['states']['no known slip']:,} differ, {scattering:,} follow no setting, "
                     f"{log['states']['too few nights'] + log['states']['not used']:,} not concluded from; see logs.csv"
                     + (f"; {counted(log['rejected_rows'], 'row')} could not be used, see rejects.csv" if log["rejected_rows"] else ""))
    if work["sites"]:
        first = done.work.iloc[0]
        lines += [f"Work        {counted(work['sites'], 'site')} on {counted(work['days'], 'day')}: {work['dark_h']:,.0f} h a year unlit"
                  + (f", {work['waste_kwh']:,.0f} kWh wasted where the load is known" if work["waste_kwh"] else "") + ", if each first explanation holds",
                  f"First       {first['site_id']}: {first['diagnosis']}"]
    lines += _costs(figures["costs"])
    lines.append(f"Watch       {counted(figures['watch'], 'date')} from which a slip that cannot be seen yet, or a keyed clock, would show")
    lines += [f"Note        {note}" for note in done.notes]
    # As long as there is somebody to send out.
    lines += [f"Caution     {done.summary['cautions'][0]} A lamp found unlit on a live road is reported at once."] if work["sites"] else []
    return "\n".join(map(visible, lines)) + f"\nWritten     {_name(out)}"


def _costs(costs: dict) -> list[str]:
    """What the sites that were read cost today and with the plan, if each first explanation holds."""
    if not costs["sites"]:
        return []
    lines = [f"Today       {costs['dark_h']:,.0f} h a year unlit at {counted(costs['sites'], 'site')}, with the plan {costs['plan_dark_h']:,.0f} h"]
    if costs["sites_with_load"]:
        today, plan = (f"{costs[f'{when}kwh']:,.0f} kWh" + (f" and {costs[f'{when}cost']:,.0f} {costs['currency']}".rstrip() if costs["cost"] is not None else "")
                       for when in ("", "plan_"))
        lines.append(f"            {today} a year at {counted(costs['sites_with_load'], 'site')} with a load, with the plan {plan}")
    return lines


def _name(out: Path) -> str:
    return str(out) if not sys.stdout.isatty() else visible(str(out))  # a script needs the name as it is


def _groups(groups, step: float) -> list[str]:
    """The plan: what to key in where, why not fewer, and what it saves."""
    lines = [f"Groups      {groups.headline}"]
    width = max((len(name) for name in groups.settings["group"]), default=1)
    for row in groups.settings.head(_GROUPS_SHOWN).itertuples():
        lines.append(f"            {row.group:<{width}}  latitude {keyed_text(row.lat_deg, step)}, longitude {keyed_text(row.lon_deg, step)}, "
                     f"dusk {row.dusk_offset_min:+d} min, dawn {row.dawn_offset_min:+d} min: {counted(row.sites, 'site')}, "
                     f"worst {row.worst_dark_min:.1f} min unlit, {row.worst_excess_min:.1f} min lit too long; "
                     f"clock {clock_words(row.clock_to_key, row.legal_zone)}")
    if len(groups.settings) > _GROUPS_SHOWN:
        lines.append(f"            and {len(groups.settings) - _GROUPS_SHOWN} more in groups.csv")
    if groups.plan.witnesses.kind != "none":
        lines += [f"            {text}" for text in (groups.plan.witnesses.sentence, groups.short_reason) if text]
    for row in groups.unserved.head(_GROUPS_SHOWN).itertuples():
        what = f"{groups.rules.no_setting if row.proved else 'no setting was found that'} serves {row.unit}"
        lines.append(f"            {what}; with {minutes(row.dark_min)} min unlit and {minutes(row.excess_min)} min lit too long allowed one would"
                     if max(row.dark_min, row.excess_min) <= MOST_TOLERANCE_MIN else f"            {what}, whatever the tolerance")
    if len(groups.unserved) > _GROUPS_SHOWN:
        lines.append(f"            nor {len(groups.unserved) - _GROUPS_SHOWN:,} more, see unserved.csv")
    found = groups.plan.existing
    if found is not None and found.settings_needed:
        saved = found.settings_saved
        most, least = ("", "") if found.proved else ("at most ", "at least ")
        plan = f"saves {most}{saved:,}" if saved > 0 else f"takes {least}{-saved:,} more" if saved < 0 else "saves none"
        lines.append(f"            by {groups.existing_column} it takes {most}{counted(found.settings_needed, 'setting')}; the plan {plan}"
                     + (f" ({counted(found.without, 'site')} without one left out on both sides)" if found.without else ""))
    return lines


def _zones(zoning, step: float) -> list[str]:
    """The lighting zones: what to key where, and the outlines that no one setting serves."""
    lines = [f"Zones       {zoning.headline}"]
    width = max((len(name) for name in zoning.zones["zone"]), default=1)
    for row in zoning.zones.head(_GROUPS_SHOWN).itertuples():
        lines.append(f"            {row.zone:<{width}}  latitude {keyed_text(row.lat_deg, step)}, longitude {keyed_text(row.lon_deg, step)}, "
                     f"dusk {row.dusk_offset_min:+d} min, dawn {row.dawn_offset_min:+d} min: {ground_words(row)}; {row.area_km2:,.0f} km2, "
                     f"worst {row.worst_dark_min:.1f} min unlit, {row.worst_excess_min:.1f} min lit too long; "
                     f"clock {clock_words(row.clock_to_key, row.legal_zone)}")
    if len(zoning.zones) > _GROUPS_SHOWN:
        lines.append(f"            and {len(zoning.zones) - _GROUPS_SHOWN} more in zones.csv")
    for row in zoning.unserved.head(_GROUPS_SHOWN).itertuples():
        what = f"{'no one setting' if row.proved else 'no one setting was found that'} serves {row.area}"
        lines.append((f"            {what}; with {minutes(row.dark_min)} min unlit and {minutes(row.excess_min)} min lit too long allowed one would"
                      if max(row.dark_min, row.excess_min) <= MOST_TOLERANCE_MIN else f"            {what}, whatever the tolerance") + parts_words(row))
    if len(zoning.unserved) > _GROUPS_SHOWN:
        lines.append(f"            nor {len(zoning.unserved) - _GROUPS_SHOWN:,} more, see unserved_areas.csv")
    return lines


def _programmes(answers: Answers) -> list[str]:
    """Operating hours, what the ways to set the switches cost, and where a programme has faulty nights."""
    found, lines = answers.programmes, []
    by = found.hours[found.hours["level"] == "programme"]
    width = max(len(name) for name in by["programme"])
    for place, row in enumerate(by.itertuples()):
        known = "" if row.sites_with_load == row.sites else f" ({row.sites_with_load} of {row.sites} sites have a load)"
        energy = f", {row.kwh:,.0f} kWh{known}" if row.sites_with_load else ""
        cost = f", {row.cost:,.0f} {found.currency}".rstrip() if row.sites_with_load and row.cost > 0 else ""
        lines.append(f"{'Hours' if place == 0 else '':<12}{row.programme:<{width}}  {row.lit_h:,.0f} h a year at each of "
                     f"{counted(row.sites, 'site')}{energy}{cost}")
    lines += _sums_to_key(found)
    if found.comparison["cost"].sum() > 0 and (why := dearer_hours(by.set_index("programme"))):
        lines.append(f"            {why}")
    plan = "groups" if "groups" in found.comparison.index else "one shared setting"
    for row in found.comparison.reset_index().itertuples():
        lines.append(f"            {_WAYS[row.way]}: {row.dark_h:,.0f} h unlit, {row.excess_h:,.0f} h lit too long a year, all sites together")
        if row.way == plan and answers.summary["hours"]["foolish_h"] >= 0.5:
            lines.append(f"              faulty nights are about {answers.summary['hours']['foolish_h']:,.0f} h of it, which no setting mends")
    for row in found.clocks[~found.clocks["exact"]].itertuples():
        lines.append(f"Wrong clock at {counted(row.sites, 'site')}: the keypad cannot always show their legal time, see the note and clocks.csv")
    for name, cure in found.cures.items():
        mine = found.foolish[(found.foolish["programme"] == name) & ((found.foolish["hours"] > 0) | (found.foolish["kind"] == "never happens"))]
        worst = mine.loc[mine["site_hours"].idxmax()]
        lines.append(f"Faulty      {worst['what']}")
        if len(mine) > 1:
            lines.append(f"            {name}: {counted(len(mine) - 1, 'more finding')}, see faulty.csv")
        state = "a programme correction that was run through the year" if cure.verified else "a partial programme correction"
        lines.append(f"            {state} is in corrections.toml: {'; '.join(cure.changes) or 'nothing that could be changed'}")
        lines += [f"            {text}" for text in (price(cure), cure.clock_note) if text]
    if found.timetables:
        table = answers.summary["timetable"]
        lines.append(f"Timetable   by the {table['period']}, rounded to {table['rounding_min']} min"
                     + (f": worst {table['worst_dark_min']:.1f} min unlit, {table['worst_excess_min']:.1f} min lit too long at any site"
                        if table["sites"] else "")
                     + (", programmes with faulty nights left out" if table["sites"] and table["sites_with_foolish_programmes"] else ""))
    return lines


def _sums_to_key(found) -> list[str]:
    """Where a programme shifts dusk or dawn and the setting does so too: the sum, as it acts and is keyed."""
    pairs = found.sites[["setting_label", "programme", "key_events"]].drop_duplicates().sort_values(["setting_label", "programme"])
    both = pairs[pairs["key_events"].str.contains(r"\(setting [+-]\d+, programme [+-]\d+")]
    lines = [f"{'To key' if place == 0 else '':<12}{one.setting_label}, {one.programme}: {one.key_events}"
             for place, one in enumerate(both.head(_GROUPS_SHOWN).itertuples())]
    if len(both) > _GROUPS_SHOWN:
        lines.append(f"            and {len(both) - _GROUPS_SHOWN} more, see key_events in sites.csv")
    return lines


def _grazing(opinion: dict) -> str:
    """Where the sun only grazes the threshold, a hair of altitude is minutes of time: no alarm."""
    if opinion["compared"] and opinion["largest_steady_s"] < opinion["largest_s"] - 1.0:
        return f" where the sun grazes the threshold, {opinion['largest_steady_s']:.1f} s elsewhere"
    return ""


def _worst(worst: dict, answers: Answers) -> list[str]:
    if not worst["sites"]:
        return []
    lines = []
    for kind, word in (("dark", "unlit"), ("excess", "lit too long")):
        if worst[f"worst_{kind}_min"] > 0:
            where = f"at {worst[f'worst_{kind}_site']}, {EDGE_WORDS[worst[f'worst_{kind}_edge']]} {worst[f'worst_{kind}_night']}"
            lines.append(f"            worst {worst[f'worst_{kind}_min']:.1f} min {word} {where}")
    return lines
