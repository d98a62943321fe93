"""A mistake of the user as plain data, as it goes from process to process and into pages."""

from __future__ import annotations

from ..errors import GeozoneError


def fault(why: GeozoneError) -> dict:
    """A mistake of the user as data: the four parts of its message, and the key of the job that is its cause."""
    parts = {name: None if getattr(why, name) is None else str(getattr(why, name))[:2000] for name in ("what", "where", "value", "rule", "next_step")}
    return {**parts, "notes": list(why.notes), "key": ".".join(map(str, why.key)), "text": str(why)}
