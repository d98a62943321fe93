"""Numbers of a record held against their bounds, so that what cannot be keyed is refused where it is made."""

from __future__ import annotations

from numbers import Integral, Real

from ..errors import InputError


def checked_number(where: str, name: str, value, low: float, high: float, next_step: str) -> None:
    """Refuse what is not a number from `low` to `high`; not-a-number is refused, true and false are no numbers.

    Parameters
    ----------
    where : str
        The record, for the message.
    name : str
        The field, with its unit.
    value : object
    low, high : float
        Bounds, both allowed.
    next_step : str

    Raises
    ------
    InputError
    """
    # float first: search loops make thousands of records, and an exact type is told ten times as fast as an abstract one
    if type(value) is not float and (isinstance(value, bool) or not isinstance(value, Real)) or not low <= value <= high:
        raise InputError(f"{name} is out of range" if isinstance(value, Real) and not isinstance(value, bool)
                         else f"{name} is no number", where=where, value=value,
                         rule=f"a number from {low:g} to {high:g}", next_step=next_step)


def checked_whole(where: str, name: str, value, low: int, high: int, next_step: str) -> None:
    """Refuse what is not a whole number from `low` to `high`; parameters as for `checked_number`."""
    if type(value) is not int and (isinstance(value, bool) or not isinstance(value, Integral)) or not low <= value <= high:
        raise InputError(f"{name} is out of range" if isinstance(value, Integral) and not isinstance(value, bool)
                         else f"{name} is no whole number", where=where, value=value,
                         rule=f"a whole number from {low} to {high}", next_step=next_step)
