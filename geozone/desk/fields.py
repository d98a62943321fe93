"""The one table of the form's fields, made from the models by which the job file is read: nothing here knows a key by itself."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from ..jobs.job import JobFile
from ..jobs.keys import example_of, is_list, kind_of, options_of, section_of
from .labels import KEYS, OPTIONS, PARTS, SECTIONS, UNITS, WITHOUT

#: Which sections stand on the page of files: they say how the list is read.
OF_THE_FILES = ("columns", "reading")


@dataclass(frozen=True)
class Field:
    """One field of the form.

    Attributes
    ----------
    path : tuple of str
        Names from its section's table to the value; two of them for a part of a table on one line.
    label, sentence, unit : str
    kind : {"text", "number", "whole", "choice", "switch", "lines", "days"}
    options : tuple of (str, str)
        What may be chosen, as the form sends it and as it is shown.
    values : tuple
        The same as the job file has them.
    default : str
        What holds where it is left out, as the form would send it; "" for nothing.
    required : bool
    rule, example : str
        What may stand there, in the words of the job file, and a value.
    """

    path: tuple[str, ...]
    label: str
    sentence: str
    unit: str
    kind: str
    options: tuple[tuple[str, str], ...]
    values: tuple
    default: str
    required: bool
    rule: str
    example: str


@dataclass(frozen=True)
class FormSection:
    """One section of the form.

    Attributes
    ----------
    path : tuple of str
    title, sentence : str
    many : bool
        Whether the job has a list of them.
    optional : bool
        Whether it may be left out as a whole, which is another thing than all its keys left out.
    without : str
        What leaving it out means.
    fields : tuple of Field
    below : tuple of FormSection
        Lists of tables in it.
    """

    path: tuple[str, ...]
    title: str
    sentence: str
    many: bool
    optional: bool
    without: str
    fields: tuple[Field, ...]
    below: tuple[FormSection, ...]

    @property
    def name(self) -> str:
        return ".".join(self.path)


@lru_cache(maxsize=1)
def form() -> tuple[FormSection, ...]:
    """All sections of the job file in the order of the form; those of lists stand below their own."""
    made = {section.name: section for section in (_section(JobFile, (name,)) for name in JobFile.model_fields)}
    return tuple(sorted(made.values(), key=lambda section: list(SECTIONS).index(section.name)))


def section_named(name: str) -> FormSection | None:
    """A section by its dotted name, also one in a list."""
    for section in _with_all_below(form()):
        if section.name == name:
            return section
    return None


def _with_all_below(sections):
    for section in sections:
        yield section
        yield from _with_all_below(section.below)


def _section(model: type[BaseModel], path: tuple[str, ...]) -> FormSection:
    info = _info(model, path[-1])
    inner = section_of(info.annotation)
    fields: list[Field] = []
    below = []
    for name, field in inner.model_fields.items():
        spelled = field.alias or name
        part = section_of(field.annotation)
        extra: Any = {} if part is None else part.model_config.get("json_schema_extra") or {}
        if part is None:
            fields.append(_field(path, (spelled,), field, KEYS[f"{'.'.join(path)}.{spelled}"]))
        elif "inline" in extra:
            own = KEYS[f"{'.'.join(path)}.{spelled}"]
            fields += [_field(path, (spelled, one.alias or other), one, f"{own}: {PARTS[one.alias or other]}", field.is_required())
                       for other, one in part.model_fields.items()]
        else:
            below.append(_section(inner, path + (spelled,)))
    name = ".".join(path)
    return FormSection(path, SECTIONS[name], info.description or "", is_list(info), not info.is_required() and info.default is None and not is_list(info),
                       WITHOUT.get(name, ""), tuple(fields), tuple(below))


def _info(model: type[BaseModel], spelled: str) -> FieldInfo:
    return next(field for name, field in model.model_fields.items() if (field.alias or name) == spelled)


def _field(section: tuple[str, ...], path: tuple[str, ...], field: FieldInfo, label: str, needed: bool = True) -> Field:
    rule, values = kind_of(field), options_of(field)
    extra = field.json_schema_extra if isinstance(field.json_schema_extra, dict) else {}
    default = extra.get("default", None if field.is_required() else field.default)
    kind = ("choice" if values else "days" if "weekday, or a list" in rule else "lines" if is_list(field) else "switch" if rule == "true or false" else
            "whole" if rule.startswith("a whole number") else "number" if rule.startswith("a number") else "text")
    if kind == "switch":
        values = (True, False)
    unit = next((unit for end, unit in UNITS.items() if path[-1].endswith(end)), "")
    return Field(path, label, field.description or "", unit, kind, tuple((sent(value), OPTIONS.get(sent(value), sent(value))) for value in values), values,
                 "" if default is None or default == [] else sent(default), field.is_required() and needed, rule,
                 example_of(field, "").removeprefix(" = ").strip('"') if kind != "lines" else "")


def sent(value: Any) -> str:
    """A value of the job file as the form shows it and sends it back."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return repr(value).removesuffix(".0")
    return value.isoformat() if hasattr(value, "isoformat") else str(value)
