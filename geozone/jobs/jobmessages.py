"""One manner of message for the whole job file: file and line, value, rule, next step."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ValidationError

from ..errors import InputError
from ..nearnames import did_you_mean
from .jobplaces import Places
from .keys import Refusal, example_of, field_at, is_list, kind_of, options_of, section_of, sections_in


def checked(model: type[BaseModel], data: Any, places: Places, path: tuple = ()) -> Any:
    """Data of a job file as a model.

    Parameters
    ----------
    model : type
        A model of `sections` or `programme_models`, or of the whole file.
    data : dict
        As `tomllib` reads it.
    places : Places
        Lines of the file.
    path : tuple
        Keys from the top of the file to this data.

    Raises
    ------
    InputError
        With the line, the value, the rule and the next step of the first fault.
    """
    try:
        return model.model_validate(data)
    except ValidationError as error:
        found = _in_order(error)
        raise _as_input_error(found[0], model, places, path, f" ({len(found) - 1} more after this one)" if len(found) > 1 else "") from None


def faults(model: type[BaseModel], data: Any, places: Places) -> list[tuple[tuple, InputError]]:
    """All that `checked` would refuse one after the other: the key of each fault, from the top of the file, and what is said of it."""
    try:
        model.model_validate(data)
    except ValidationError as error:
        return [(_key_of(one, model), _as_input_error(one, model, places, (), "")) for one in _in_order(error)]
    return []


def _in_order(error: ValidationError) -> list:
    # An unknown key often is the reason why a known one is missing: say it first.
    return sorted(error.errors(), key=lambda item: item["type"] != "extra_forbidden")


def _key_of(fault: Any, model: type[BaseModel]) -> tuple:
    why = fault.get("ctx", {}).get("error")
    return _own_keys(model, fault["loc"]) + (why.at if isinstance(why, Refusal) else ())


def _as_input_error(first: Any, model: type[BaseModel], places: Places, path: tuple, more: str) -> InputError:
    inner = _own_keys(model, first["loc"])
    keys = path + inner
    dotted = _dotted(keys)
    if first["type"] == "extra_forbidden":
        return InputError(f"unknown key {dotted}{more}", where=places.where(*keys),
                          rule=f"known here: {', '.join(_names(_model_at(model, inner[:-1])))}",
                          next_step=_nearest(model, inner))
    if first["type"] == "missing":
        return _missing(model, inner, keys, places, more)
    why = first.get("ctx", {}).get("error")
    if isinstance(why, Refusal):
        at = keys + why.at
        what = why.what if not path + inner or why.what.startswith(("programme", "two ", "job.sites")) else f"{_dotted(at)}: {why.what}"
        return InputError(f"{what}{more}", where=places.where(*at), value=why.value, rule=why.rule, next_step=why.next_step)
    value = first.get("input")
    field = field_at(model, inner)
    return InputError(f"{dotted} cannot be used{more}", where=places.where(*keys),
                      value=None if isinstance(value, (dict, list)) else value,
                      rule=_rule(field, keys, first), next_step=_next(field, keys, value))


def _missing(model, inner: tuple, keys: tuple, places: Places, more: str) -> InputError:
    field = field_at(model, inner)
    head = keys[:-1]
    where = places.where(*head) if head else places.name or None
    if field is not None and section_of(field.annotation) is not None and not _on_one_line(field):
        return InputError(f"{_dotted(keys)} is missing{more}", where=where, rule=field.description,
                          next_step=f"add a section {_bracketed(keys, field)}")
    return InputError(f"{_dotted(keys)} is missing{more}", where=where,
                      rule=f"{keys[-1]}: {field.description}; {kind_of(field)}",
                      next_step=f"add it to {_bracketed(head, field_at(model, inner[:-1]))}: {example_of(field, keys[-1])}")


def _rule(field, keys: tuple, first: dict) -> str:
    if field is None:
        return first["msg"]
    if section_of(field.annotation) is not None and not _on_one_line(field):
        if is_list(field):
            return f"each starts with {_bracketed(keys, field)}, in double brackets"
        return f"a section starts with {_bracketed(keys, field)}"
    if isinstance(keys[-1], int):
        return 'texts in "double quotes"'
    return kind_of(field)


def _next(field, keys: tuple, value) -> str | None:
    if field is None:
        return None
    if section_of(field.annotation) is not None and not _on_one_line(field):
        return f"write {_bracketed(keys, field)} on a line of its own, and its keys below"
    name = next(key for key in reversed(keys) if not isinstance(key, int))
    example = example_of(field, name)
    otherwise = f"for example {example} ({field.description})" if example else f"{name}: {field.description}"
    options = [one for one in options_of(field) if isinstance(one, str)]
    return did_you_mean(value, options, otherwise) if isinstance(value, str) and options else otherwise


def _on_one_line(field) -> bool:
    return "inline" in (section_of(field.annotation).model_config.get("json_schema_extra") or {})


def _own_keys(model: type[BaseModel], loc: tuple) -> tuple:
    """A place as the file has it: pydantic also names the branch of a choice that it tried."""
    keys: tuple = ()
    for part in loc:
        if isinstance(part, int) or field_at(model, keys + (part,)) is not None or part == loc[-1] and _model_at(model, keys):
            keys += (part,)
    return keys


def _model_at(model: type[BaseModel], keys: tuple) -> type[BaseModel] | None:
    for part in keys:
        if not isinstance(part, int):
            field = field_at(model, (part,)) if model is not None else None
            model = section_of(field.annotation) if field is not None else None
    return model


def _names(model: type[BaseModel] | None) -> list[str]:
    return [field.alias or name for name, field in model.model_fields.items() if not field.exclude] if model is not None else []


def _dotted(keys: tuple) -> str:
    return ".".join(key for key in keys if not isinstance(key, int))


def _bracketed(keys: tuple, field) -> str:
    return f"[[{_dotted(keys)}]]" if field is not None and is_list(field) else f"[{_dotted(keys)}]"


def _nearest(model: type[BaseModel], keys: tuple) -> str:
    """Where an unknown key belongs, or what it may have meant."""
    name, here = str(keys[-1]), _model_at(model, keys[:-1])
    sections = {path: _names(one) for path, one in sections_in(model).items()}
    heads = {path: _bracketed(path, field_at(model, path)) for path in sections if path}
    elsewhere = [path for path, names in sections.items() if path and name in names]
    if elsewhere:
        return f"{name} belongs in {heads[elsewhere[0]]}"
    near = did_you_mean(name, _names(here))
    if near:
        return near
    home = {key: path for path, names in reversed(sections.items()) if path for key in names}
    near = did_you_mean(name, home, cutoff=0.6)
    return near.replace("?", f" in {heads[home[near.removeprefix('did you mean ')[:-1]]]}?") if near else "take it out"
