"""Two folders change names in one step, where the operating system can do that."""

from __future__ import annotations

import ctypes
import os
import sys
from pathlib import Path

_AT_FDCWD = -100
_RENAME_EXCHANGE = 2  # Linux, renameat2(2)
_RENAME_SWAP = 2  # macOS, renamex_np(2)


def exchanged(one: Path, other: Path) -> bool:
    """Give each of two existing folders the other's name, at once: nobody ever sees neither or one of them twice.

    Returns
    -------
    bool
        False, and nothing happened, where the system or the disk cannot do it (Windows; some network disks).
    """
    try:
        library = ctypes.CDLL(None, use_errno=True)
        a, b = os.fsencode(one), os.fsencode(other)
        if sys.platform == "darwin":
            return library.renamex_np(a, b, ctypes.c_uint(_RENAME_SWAP)) == 0
        return library.renameat2(_AT_FDCWD, a, _AT_FDCWD, b, ctypes.c_uint(_RENAME_EXCHANGE)) == 0
    except (AttributeError, OSError, TypeError):  # no such function, or no such way to load the library
        return False
