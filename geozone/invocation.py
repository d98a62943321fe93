"""How geozone was called: the command that a message tells people to run works as printed, where they are."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import sys
from collections.abc import Sequence
from pathlib import PurePath, PurePosixPath, PureWindowsPath

_NAME = "geozone"
# Modules that Python runs with -m for the same commands.
_MODULES = ("__main__.py", "cli.py")


def command(*arguments: object) -> str:
    """The command line that calls geozone again as it was called now, with these arguments, quoted for the shell at hand.

    Parameters
    ----------
    *arguments : str or path

    Returns
    -------
    str
        For example ``.venv/bin/geozone run 'my job/job.toml'``. Plain ``geozone`` where that finds this program, or where
        geozone was not called as a command.
    """
    windows = os.name == "nt"
    found = shutil.which(_NAME)
    words = called(sys.argv[0] if sys.argv else "", list(getattr(sys, "orig_argv", [])), PureWindowsPath(os.getcwd()) if windows
                   else PurePosixPath(os.getcwd()), found)
    return quoted([*words, *map(str, arguments)], shell_at_hand(windows, os.environ.get("PSModulePath", "")))  # noqa: SIM112 (named so by the shell)


def called(argv0: str, orig_argv: Sequence[str], folder: PurePath, on_path: str | None) -> list[str]:
    """The words before the arguments.

    Parameters
    ----------
    argv0 : str
        ``sys.argv[0]``.
    orig_argv : sequence of str
        ``sys.orig_argv``: how Python was called.
    folder : PurePath
        Where the user stands; its kind says which system this is.
    on_path : str or None
        The program that the bare name finds.
    """
    kind = type(folder)
    me = kind(argv0)
    if me.name in _MODULES and me.parent.name == _NAME:
        python = orig_argv[0] if orig_argv else "python"
        return [_from(folder, kind(python)), "-m", _NAME]
    if re.sub(r"(-script\.pyw?|\.exe)$", "", me.name, flags=re.IGNORECASE) != _NAME or len(me.parts) < 2:
        return [_NAME]
    if on_path is not None and _plain(folder / me) == _plain(folder / kind(on_path)):
        return [_NAME]
    return [_from(folder, _plain(me))]


def shell_at_hand(windows: bool, module_path: str) -> str:
    """"posix", "cmd" or "powershell"; the latter adds the user's own folder to the two that every process has."""
    return "posix" if not windows else "powershell" if module_path.count(";") >= 2 else "cmd"


def quoted(words: Sequence[str], shell: str) -> str:
    """Words as one line that the shell reads as these words."""
    if shell == "posix":
        return shlex.join(words)
    if shell == "powershell":
        line = " ".join(w if re.fullmatch(r"[\w.:\\/+=~-]+", w) else "'" + w.replace("'", "''") + "'" for w in words)
        return f"& {line}" if line.startswith("'") else line
    return " ".join(w if re.fullmatch(r"[\w.:\\/+=~-]+", w) else f'"{w}"' for w in words)


def _from(folder: PurePath, program: PurePath) -> str:
    """The program as one would type it in a folder."""
    if not program.is_absolute():
        return str(program)
    try:
        near = program.relative_to(folder)
    except ValueError:
        return str(program)
    # A program in this very folder needs a sign that it is no name to be looked up.
    return str(near) if len(near.parts) > 1 else "." + ("\\" if isinstance(folder, PureWindowsPath) else "/") + str(near)


def _plain(program: PurePath) -> PurePath:
    """Without the ending that nobody types."""
    return program.with_name(re.sub(r"(-script\.pyw?|\.exe)$", "", program.name, flags=re.IGNORECASE))
