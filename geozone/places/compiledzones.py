"""One compiled zone of a tz database that a stranger made: looked at byte by byte before the standard library reads it."""

from __future__ import annotations

import re
import struct
import zoneinfo
from io import BytesIO

from ..errors import InputError

#: What every compiled zone begins with (RFC 9636, 3.1).
MAGIC = b"TZif"
#: The largest of the database takes less than 4 kB, with every change up to 2037 written out.
MOST_ZONE_BYTES = 100_000
#: Names as the tz database has them: one to three parts of letters, digits and a few signs.
ZONE_NAME = re.compile(r"[A-Za-z0-9_+-]{1,40}(/[A-Za-z0-9_+-]{1,40}){0,2}")

_HEAD = struct.Struct(">4sc15x6L")
#: RFC 9636, 3.2: an offset is more than -25 h and less than 26 h.
_MOST_OFFSET_S = (-89_999, 93_599)


def compiled_zone(data: bytes, name: str, where: str) -> zoneinfo.ZoneInfo:
    """The zone that a compiled file holds.

    Parameters
    ----------
    data : bytes
        TZif of version 2 or later, which states the rule for the years to come.
    name : str
        Name of the zone.
    where : str
        What messages call the database.

    Raises
    ------
    InputError
        If it is damaged, counts leap seconds, or says nothing of the years to come.

    References
    ----------
    RFC 9636 (TZif), sections 3.1 to 3.3.
    """
    try:
        fault = _fault(data)
        if not fault:
            return zoneinfo.ZoneInfo.from_file(BytesIO(data), key=name)
    except (ValueError, IndexError, OverflowError, TypeError, struct.error) as why:
        fault = str(why) or "it cannot be read"
    raise InputError(f"the zone {name} of this tz database cannot be used", where=where, value=fault, rule="a compiled zone as in RFC 9636, with the rule "
                     "for the years to come and without leap seconds", next_step="fetch the database again, or give the tzdata wheel of that release")


def _fault(data: bytes) -> str:
    """What is wrong with a compiled zone; "" where nothing is."""
    if len(data) > MOST_ZONE_BYTES:
        return f"{len(data):,} bytes, at most {MOST_ZONE_BYTES:,}"
    magic, version, *counts = _HEAD.unpack_from(data)
    if magic != MAGIC:
        return "it is no compiled zone"
    if version < b"2":
        return "version 1, which does not say what holds after 2037"
    # The first block is for readers of 1986 and is passed over; the second begins with a head of its own.
    begin = _HEAD.size + _block_bytes(counts, 4)
    magic, _, *counts = _HEAD.unpack_from(data, begin)
    if magic != MAGIC:
        return "the second block is not where it should be"
    ut, standard, leaps, times, kinds, letters = counts
    if leaps:
        return "it counts leap seconds, which legal time does not"
    if not kinds or not letters or ut not in (0, kinds) or standard not in (0, kinds):
        return "the counts of its head contradict each other"
    begin += _HEAD.size
    end = begin + _block_bytes(counts, 8)
    if end > len(data):
        return "it ends too early"
    moments = struct.unpack_from(f">{times}q", data, begin)
    begin += 8 * times
    kind_of = data[begin:begin + times]
    begin += times
    if any(one >= two for one, two in zip(moments[:-1], moments[1:], strict=True)) or any(kind >= kinds for kind in kind_of):
        return "its changes are out of order or of no kind"
    for offset_s, saving, place in struct.iter_unpack(">lBB", data[begin:begin + 6 * kinds]):
        if not _MOST_OFFSET_S[0] <= offset_s <= _MOST_OFFSET_S[1] or saving > 1 or place >= letters:
            return "an offset from UTC that no law has"
    footer = data[end:]
    if not re.fullmatch(rb"\n[!-~]{1,100}\n", footer):
        return "it does not say what holds after its last change"
    return ""


def _block_bytes(counts, width: int) -> int:
    ut, standard, leaps, times, kinds, letters = counts
    return times * (width + 1) + kinds * 6 + letters + leaps * (width + 4) + standard + ut
