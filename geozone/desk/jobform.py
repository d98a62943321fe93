"""The form and the job file: what a field shows, what was edited, and the edits made in the text."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from ..errors import InputError
from .fields import Field, FormSection, form, section_named, sent
from .jobtext import JobText
from .nested import value_at

#: A table that is added to a list: something that can run, to be edited.
NEW_TABLES: dict[str, dict] = {
    "programme": {"name": "programme", "event": [{"turn": "on", "at": "dusk"}, {"turn": "off", "at": "dawn"}]},
    "programme.event": {"turn": "off", "at": "23:00"},
    "tariff.band": {"name": "night", "per_kwh": 0.0, "from": "22:00", "to": "06:00"},
    "keypad.saving_rule": {"name": "rule", "start": {"month": 10, "nth": 1, "weekday": "sun", "at": "02:00"},
                           "end": {"month": 4, "nth": 1, "weekday": "sun", "at": "02:00"}},
    "sheet.revisions": {"index": "A"},
}
_MOST_TABLES = 200


@dataclass(frozen=True)
class Shown:
    """One field with what the job file says.

    Attributes
    ----------
    field : Field
    name : str
        As the form sends it.
    text : str
    error : InputError or None
    """

    field: Field
    name: str
    text: str
    error: InputError | None = None


@dataclass(frozen=True)
class ShownSection:
    """One section with what the job file says; `rows` are the tables of a list, each with its place in it."""

    section: FormSection
    name: str
    there: bool
    fields: tuple[Shown, ...]
    below: tuple[ShownSection, ...]
    errors: tuple[InputError, ...]

    @property
    def wrong(self) -> int:
        """How many faults it holds, those below counted."""
        return len(self.errors) + sum(one.error is not None for one in self.fields) + sum(one.wrong for one in self.below)


def shown_form(data: Mapping, faults: list[tuple[tuple, InputError]], sections: tuple[FormSection, ...] | None = None) -> tuple[list[ShownSection], list[InputError]]:
    """Every section as the form shows it, each fault at its field or section; faults that belong to none come apart."""
    left = [(list(key), why) for key, why in faults]
    made = [one for section in (form() if sections is None else sections) for one in _shown(section, (), data, left)]
    return made, [why for _, why in left]


def _shown(section: FormSection, above: tuple, data: Any, left: list) -> Iterator[ShownSection]:
    path = above + (section.path[-1],)
    inside = value_at(data, path)
    for here in [path + (i,) for i in range(min(len(inside), _MOST_TABLES))] if section.many and isinstance(inside, list) else [] if section.many else [path]:
        fields = [Shown(field, _name(here + field.path), _text(field, value_at(data, here + field.path)), _taken(left, here + field.path))
                  for field in section.fields]
        below = tuple(one for inner in section.below for one in _shown(inner, here, data, left))
        yield ShownSection(section, _name(here), value_at(data, here) is not None, tuple(fields), below, tuple(_all_taken(left, here)))


def _taken(left: list, path: tuple) -> InputError | None:
    """The fault of a field; one about an item of a list, or about a whole table on one line, is said at it as well."""
    for spot, (key, why) in enumerate(left):
        if tuple(key[:len(path)]) == path or len(key) > 1 and len(key) == len(path) - 1 and isinstance(path[-2], str) and tuple(key) == path[:-1]:
            del left[spot]
            return why
    return None


def _all_taken(left: list, path: tuple) -> Iterator[InputError]:
    for spot in reversed(range(len(left))):
        if left[spot][0] and tuple(left[spot][0][:len(path)]) == path:
            yield left.pop(spot)[1]


def _name(path: tuple) -> str:
    return ".".join(map(str, path))


def _text(field: Field, value: Any) -> str:
    if isinstance(value, list):
        return ("\n" if field.kind == "lines" else ", ").join(map(sent, value))
    return sent(value)


def edited(job: JobText, posted: Mapping[str, str]) -> JobText:
    """The job's text with every field that was edited, and with no other line changed.

    Parameters
    ----------
    job : JobText
        As it was when the form was shown.
    posted : mapping
        Name of a field to its text; fields that are not in it are left alone.

    Raises
    ------
    InputError
        For a change that the text does not allow.
    """
    for shown in _all_fields(shown_form(job.data, [])[0]):
        if shown.name in posted and _plain(posted[shown.name]) != _plain(shown.text):
            path = tuple(int(part) if part.isdecimal() else part for part in shown.name.split("."))
            job = _with(job, path, shown.field, _plain(posted[shown.name]))
    return job


def _all_fields(sections) -> Iterator[Shown]:
    for section in sections:
        yield from section.fields
        yield from _all_fields(section.below)


def _with(job: JobText, path: tuple, field: Field, text: str) -> JobText:
    value = None if not text else meant(field, text)
    if len(field.path) == 1:
        if value is not None:
            return job.with_value(path, value)
        return job.without(path) if job.has(path) else job
    # A part of a table on one line: the line is written anew.
    whole = {**(value_at(job.data, path[:-1]) or {}), path[-1]: value}
    whole = {name: one for name, one in whole.items() if one is not None}
    if whole:
        return job.with_value(path[:-1], whole)
    return job.without(path[:-1]) if job.has(path[:-1]) else job


def meant(field: Field, text: str) -> Any:
    """What a text of the form means in the job file; what cannot be understood stays the text, for the reader of the job to refuse.

    Examples
    --------
    >>> from geozone.desk.fields import section_named
    >>> dark_min = next(f for f in section_named("tolerance").fields if f.path == ("dark_min",))
    >>> meant(dark_min, "2,5"), meant(dark_min, "3"), meant(dark_min, "1,500"), meant(dark_min, "a few")
    (2.5, 3, '1,500', 'a few')
    """
    if field.kind in ("choice", "switch"):
        return next((value for value in field.values if sent(value) == text), text)
    if field.kind == "lines":
        return [line.strip() for line in text.split("\n") if line.strip()]
    if field.kind == "days":
        days = [day.strip() for day in text.split(",") if day.strip()]
        return days[0] if len(days) == 1 else days
    if field.kind in ("whole", "number"):
        number = text.replace("\u2212", "-").replace(" ", "")
        # A comma before three digits may be thousands: not guessed.
        if re.fullmatch(r"[-+]?\d*,(?:\d{1,2}|\d{4,})", number) and field.kind == "number":
            number = number.replace(",", ".")
        if re.fullmatch(r"[-+]?\d{1,15}", number):
            return int(number)
        if re.fullmatch(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d{1,3})?", number):
            return float(number)
    return text


def _plain(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n").strip()


def changed(job: JobText, what: str) -> tuple[JobText, str]:
    """A change of the form's structure, as its buttons name it: "add programme.0.event", "remove programme.1", "on groups", "off groups".

    Returns
    -------
    JobText, str
        And the section to show then.

    Raises
    ------
    InputError
    """
    verb, _, name = what.partition(" ")
    path = tuple(int(part) if part.isdecimal() else part for part in name.split(".") if part)
    section = section_named(".".join(part for part in path if isinstance(part, str)))
    if section is not None and verb == "add" and section.many:
        rows = value_at(job.data, path) or []
        if len(rows) < _MOST_TABLES:
            return job.with_table(path, _unlike(NEW_TABLES[section.name], rows)), _name(path + (len(rows),))
    elif section is not None and verb == "remove" and section.many and isinstance(path[-1], int):
        return job.without_table(path), _name(path[:-2] or path[:1])
    elif section is not None and verb == "on" and section.optional and not job.has(path):
        return job.with_section(path), name
    elif section is not None and verb == "off" and section.optional and job.has(path):
        return job.without_section(path), name
    raise InputError("the form has no such button", value=what[:80], next_step="load the page again: the job may have changed meanwhile")


def without_setting(job: JobText) -> JobText:
    """The job without a shared setting of today: geozone then finds the best one."""
    for name in ("lat_deg", "lon_deg", "legal_zone", "dusk_offset_min", "dawn_offset_min"):
        if job.has(("shared", name)):
            job = job.without(("shared", name))
    return job


def _unlike(table: dict, rows: list) -> dict:
    """A new table under a name that none of the others has."""
    taken = {row.get("name") for row in rows if isinstance(row, dict)}
    if "name" not in table or table["name"] not in taken:
        return table
    return {**table, "name": next(name for name in (f"{table['name']} {number}" for number in range(2, len(rows) + 3)) if name not in taken)}
