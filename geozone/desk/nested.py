"""A value inside plain data, such as a job file or a summary."""

from __future__ import annotations

from typing import Any


def value_at(data: Any, path: tuple) -> Any:
    """What lies under names and places in lists, one below the other; None where there is nothing.

    Examples
    --------
    >>> value_at({"programme": [{"name": "evening"}]}, ("programme", 0, "name")), value_at({"job": 3}, ("job", "year"))
    ('evening', None)
    """
    for name in path:
        try:
            data = data[name]
        except (KeyError, IndexError, TypeError):
            return None
    return data
