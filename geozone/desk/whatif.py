"""The question "what if": its fields, the job that it means, and its answer beside that of the last run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ..plurals import counted
from .compared import Compared
from .fields import Field, section_named, sent
from .jobform import edited, meant
from .jobtext import JobText
from .labels import KEYS
from .nested import value_at

#: How long the fewest settings are looked for, one search after the other [s].
LIMITS_S = (1.0, 6.0, 60.0)
#: Kinds of dark threshold and what each is called.
DARK_KINDS = tuple((name, KEYS[f"dark.{name}"]) for name in ("altitude_deg", "twilight", "illuminance_lx"))
_TOLERANCE = ("tolerance.dark_min", "tolerance.excess_min")
_SHARED = ("lat_deg", "lon_deg", "dusk_offset_min", "dawn_offset_min")


@dataclass(frozen=True)
class WhatIf:
    """The fields as a page shows them.

    Attributes
    ----------
    values : dict
        Name of a field to its text.
    found : bool
        Whether geozone looks for the shared setting itself, and the position is the one that it found.
    movable : bool
        Whether a position can be asked about: the legal zone whose clock is keyed is known.
    """

    values: dict[str, str]
    found: bool
    movable: bool


def fields_of(data: Mapping, summary: Mapping) -> WhatIf:
    """What the fields hold where nothing was changed: what the job says, or a setting that the last run found."""
    values = {name: _said(data, name) for name in _TOLERANCE}
    kind = next((name for name, _ in DARK_KINDS if value_at(data, ("dark", name)) is not None), "altitude_deg")
    values.update({"dark.kind": kind, "dark.value": sent(value_at(data, ("dark", kind)))})
    given = value_at(data, ("shared", "lat_deg")) is not None
    known = given or isinstance(value_at(summary, ("shared", "legal_zone")), str)
    for name in _SHARED:
        values[f"shared.{name}"] = _said(data, f"shared.{name}") if given or not known else sent(value_at(summary, ("shared", name)))
    return WhatIf(values, not given, known)


def _said(data: Mapping, name: str) -> str:
    said = value_at(data, tuple(name.split(".")))
    return _field(name).default if said is None else sent(said)


def _field(name: str) -> Field:
    section, key = name.split(".")
    return next(one for one in section_named(section).fields if one.path == (key,))


def asked_job(job: JobText, posted: Mapping[str, str], summary: Mapping) -> JobText:
    """The job's text with what the question changes, and with no other line changed.

    Raises
    ------
    InputError
        For a change that the text does not allow. A value that cannot be used stands in it as it was typed.
    """
    shown = fields_of(job.data, summary)
    new = {name: posted[name].strip() for name in shown.values if name in posted and posted[name].strip() != shown.values[name]}
    job = edited(job, {name: new[name] for name in _TOLERANCE if name in new})
    if "dark.kind" in new or "dark.value" in new:
        job = _with_threshold(job, posted.get("dark.kind", shown.values["dark.kind"]), posted.get("dark.value", shown.values["dark.value"]).strip())
    moved = {name: posted.get(name, shown.values[name]).strip() for name in (f"shared.{key}" for key in _SHARED)}
    if shown.movable and any(name in new for name in moved):
        if shown.found:
            job = job.with_value(("shared", "legal_zone"), value_at(summary, ("shared", "legal_zone")))
        for name, text in moved.items():
            key = tuple(name.split("."))
            value = meant(_field(name), text)
            if value_at(job.data, key) != value and not (text == _field(name).default and not job.has(key)):
                job = job.with_value(key, value)
    return job


def _with_threshold(job: JobText, kind: str, text: str) -> JobText:
    """One kind of threshold in the place of another; twilights are words, the others numbers."""
    if kind not in dict(DARK_KINDS):
        return job
    job = job.with_value(("dark", kind), meant(_field(f"dark.{kind}"), text))
    for name, _ in DARK_KINDS:
        if name != kind and job.has(("dark", name)):
            job = job.without(("dark", name))
    return job


def sentence_of(parts: Mapping, done: bool) -> str:
    """The answer in words, as far as it is known.

    Examples
    --------
    >>> verdicts = {"within": 3, "beyond": 1, "other_clock": 0}
    >>> sentence_of({"verdicts": verdicts}, False)
    'One setting: 3 within, 1 beyond. The fewest settings are being looked for.'
    >>> settings = {"found": 9, "at_least": 4, "proved": False, "last": False, "in_no_group": 0}
    >>> sentence_of({"verdicts": verdicts, "settings": settings}, False)
    'One setting: 3 within, 1 beyond. At most 9 settings so far, at least 4 are needed; the search goes on.'
    """
    if "verdicts" not in parts:
        return "" if done else "Being computed."
    one = parts["verdicts"]
    said = f"One setting: {one['within']:,} within, {one['beyond']:,} beyond" + (f", {one['other_clock']:,} on another clock" if one["other_clock"] else "") + "."
    if "settings" not in parts:
        return said if done else f"{said} The fewest settings are being looked for."
    found = parts["settings"]
    if found is None:
        return said
    without = f" {counted(found['in_no_group'], 'site')} would be in no group." if found["in_no_group"] else ""
    if not found["found"]:
        return f"{said} No setting was found that serves any site."
    count, least = counted(found["found"], "setting"), f"at least {found['at_least']:,} {'is' if found['at_least'] == 1 else 'are'} needed"
    if found["proved"]:
        fewer = "" if found["found"] == 1 else "; fewer will not do under this job's conditions"
        return f"{said} {count}{fewer}.{without}"
    if found["last"] or done:
        return f"{said} {count} found; {least}.{without}"
    return f"{said} At most {count} so far, {least}; the search goes on.{without}"


def rows_of(summary: Mapping, parts: Mapping) -> list[Compared]:
    """Figures of the last run and what they would be."""
    one, found = parts.get("verdicts") or {}, parts.get("settings") or {}
    rows: tuple[tuple[str, str, int, tuple, Any], ...] = (
        ("Shared setting: sites within", "", 0, ("drift", "sites_within"), one.get("within")),
        ("Shared setting: sites beyond", "", 0, ("drift", "sites_beyond"), one.get("beyond")),
        ("Shared setting: sites on another clock", "", 0, ("drift", "sites_other_clock"), one.get("other_clock")),
        ("Shared setting: worst unlit", "min", 1, ("drift", "same_clock", "worst_dark_min"), one.get("dark_min")),
        ("Shared setting: worst lit too long", "min", 1, ("drift", "same_clock", "worst_excess_min"), one.get("excess_min")),
        ("Fewest settings: found", "", 0, ("groups", "count"), found.get("found")),
        ("Fewest settings: needed at least", "", 0, ("groups", "lower_bound"), found.get("at_least")))
    made = []
    for words, unit, decimals, path, now in rows:
        before = value_at(summary, path)
        if now is not None:
            both = isinstance(before, (int, float))
            more = f"{now - before:+,.{decimals}f}" if both else ""
            made.append(Compared(words, unit, f"{before:,.{decimals}f}" if both else "–", f"{now:,.{decimals}f}", "" if more.strip("+-0.,") == "" else more))
    return made
