"""What a section of the job file is made of: keys with a type, a default, an example and a sentence, each said once.

The models of `sections` and `programme_models` are the one place of all this. The messages, the table of keys and the tests
of the template read it from there.
"""

from __future__ import annotations

import json
import types
from dataclasses import dataclass
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field
from pydantic.fields import FieldInfo


class Section(BaseModel):
    """One section of the job file, or one table in it."""

    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True)


class Refusal(ValueError):
    """Why a value cannot be used, raised by a validator; the reader adds where it stands.

    Parameters
    ----------
    what : str
    rule : str
    next_step : str, optional
    at : tuple of (str or int)
        Keys from the section that was checked to the one that is wrong.
    value : object, optional
        Left out: what stood under the key.
    """

    def __init__(self, what: str, *, rule: str, next_step: str | None = None, at: tuple = (), value: Any = None):
        super().__init__(what)
        self.what, self.rule, self.next_step, self.at, self.value = what, rule, next_step, at, value


@dataclass(frozen=True)
class Key:
    """One key of the job file.

    Attributes
    ----------
    section : str
        With dots, without brackets: "programme.event".
    many : bool
        Whether the section is one of a list, in double brackets.
    name, kind, sentence : str
    default : str
        As the job file spells it; "required", or "" for none.
    example : str
        A line of the job file.
    """

    section: str
    many: bool
    name: str
    kind: str
    default: str
    sentence: str
    example: str

    @property
    def dotted(self) -> str:
        return f"{self.section}.{self.name}"


def _no_truth(value):
    """True and false are numbers to Python, not to a planner."""
    if isinstance(value, bool):
        raise ValueError("true and false are no numbers")
    return value


def key(sentence: str, default: Any = ..., *, example: Any = None, **limits):
    """A field of a section: one sentence, a default (left out: required), an example where the default is none."""
    if example is None:
        example = default
    return Field(default, description=sentence, json_schema_extra={"example": example}, **limits)


def table(sentence: str, default: Any = ..., **limits):
    """A field that is itself a section."""
    return Field(default, description=sentence, **limits)


Number = Annotated[float, BeforeValidator(_no_truth), Field(allow_inf_nan=False)]
Whole = Annotated[int, Field(strict=True)]
Text = Annotated[str, Field(min_length=1)]
Switch = Annotated[bool, Field(strict=True)]


def sections_in(model: type[BaseModel], path: tuple[str, ...] = ()) -> dict[tuple[str, ...], type[BaseModel]]:
    """Every section below a model by its path, in the order of the models; the model itself under ()."""
    found = {path: model}
    for name, field in model.model_fields.items():
        inner = section_of(field.annotation)
        if inner is not None:
            found.update(sections_in(inner, path + (field.alias or name,)))
    return found


def section_of(annotation) -> type[BaseModel] | None:
    """The model of a field that is a section or a list of them; None for a plain key."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((inner for part in get_args(annotation) if (inner := section_of(part)) is not None), None)


def keys_of(model: type[BaseModel]) -> tuple[Key, ...]:
    """Every key below a model; tables on one line, such as a season, are keys."""
    found = []
    for path, section in sections_in(model).items():
        if path and "inline" in (section.model_config.get("json_schema_extra") or {}):
            continue
        for name, field in section.model_fields.items():
            if (section_of(field.annotation) is None or _inline(field)) and not field.exclude:
                spelled = field.alias or name
                found.append(Key(".".join(path), _many(model, path), spelled, kind_of(field), _default(field), field.description or "",
                                 example_of(field, spelled)))
    return tuple(found)


def field_at(model: type[BaseModel], path: tuple) -> FieldInfo | None:
    """The field at a path of keys and list places; None where there is none."""
    field = None
    for name in path:
        if isinstance(name, int):
            continue
        if model is None:
            return None
        field = next((one for own, one in model.model_fields.items() if (one.alias or own) == name), None)
        if field is None:
            return None
        model = section_of(field.annotation)
    return field


def is_list(field: FieldInfo) -> bool:
    """Whether a field is a list, or may be one."""
    return _is_list(field.annotation)


def options_of(field: FieldInfo) -> tuple:
    """The values that a field may have where they are few and named; else ()."""
    return _options(field.annotation)


def kind_of(field: FieldInfo) -> str:
    """What may stand under a key, in plain words: "a whole number from 1972 to 2098"."""
    if extra := (field.json_schema_extra or {}).get("kind"):
        return str(extra)
    if options := options_of(field):
        *most, last = map(json.dumps, options)
        return f"{', '.join(most)} or {last}" if most else last
    if _inline(field):
        return "a table in {braces}"
    if is_list(field):
        return "a list in [square brackets]"
    kinds = _plain(field.annotation)
    if bool in kinds:
        return "true or false"
    if int in kinds or float in kinds:
        return ("a whole number" if int in kinds else "a number") + _bounds(field)
    return 'a text in "double quotes"' + (" that is not empty" if _limit(field, "min_length") else "")


def example_of(field: FieldInfo, name: str) -> str:
    """A line of the job file that could stand there."""
    example = (field.json_schema_extra or {}).get("example")
    if example is None or example is ...:
        example = next(iter(options_of(field)), None)
    return f"{name} = {toml_of(example)}" if example is not None else ""


def toml_of(value) -> str:
    """A value as the job file spells it."""
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(map(toml_of, value)) + "]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{name} = {toml_of(one)}" for name, one in value.items()) + " }"
    if isinstance(value, float):
        return f"{value:g}"
    return json.dumps(value, ensure_ascii=False)


def _default(field: FieldInfo) -> str:
    if field.is_required():
        return "required"
    default = (field.json_schema_extra or {}).get("default", field.default)
    return "" if default is None or default in ("", []) else toml_of(default)


def _many(model: type[BaseModel], path: tuple[str, ...]) -> bool:
    return bool(path) and is_list(field_at(model, path))


def _inline(field: FieldInfo) -> bool:
    inner = section_of(field.annotation)
    return inner is not None and "inline" in (inner.model_config.get("json_schema_extra") or {})


def _parts(annotation) -> tuple:
    """Kinds that an annotation is made of, taken out of unions and of `Annotated`."""
    origin = get_origin(annotation)
    if origin is Annotated:
        return _parts(get_args(annotation)[0])
    if origin in (Union, types.UnionType):
        return tuple(one for part in get_args(annotation) for one in _parts(part))
    return (annotation,)


def _is_list(annotation) -> bool:
    return any(get_origin(part) is list or part is list for part in _parts(annotation))


def _options(annotation) -> tuple:
    found = [get_args(part) for part in _parts(annotation) if part is not type(None)]
    return found[0] if len(found) == 1 and get_origin(next(p for p in _parts(annotation) if p is not type(None))) is Literal else ()


def _plain(annotation) -> set:
    return {part for part in _parts(annotation) if isinstance(part, type)}


def _limit(field: FieldInfo, name: str):
    found = [getattr(one, name, None) for one in _metadata(field)]
    return next((one for one in found if one is not None), None)


def _metadata(field: FieldInfo) -> list:
    found = list(field.metadata)

    def walk(annotation):
        if get_origin(annotation) is Annotated:
            for one in get_args(annotation)[1:]:
                found.extend(getattr(one, "metadata", [one]))
        for part in get_args(annotation):
            walk(part)

    walk(field.annotation)
    return found


def _bounds(field: FieldInfo) -> str:
    low, above, high = (_limit(field, name) for name in ("ge", "gt", "le"))
    if low is not None and high is not None:
        return f" from {low:g} to {high:g}" if abs(high) < 1e6 else f" from {low:g} to {high:,}"
    parts = [f"greater than {above:g}"] if above is not None else [f"{low:g} or more"] if low is not None else []
    parts += [f"at most {high:g}"] if high is not None else []
    return (" " if above is not None or not parts else ", ") + " and ".join(parts) if parts else ""
