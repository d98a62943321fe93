"""The typesetter in a process of its own: what it remembers of a document goes with it, and several work side by side.

In one process it keeps parts of the last ten documents, some 7 MB a card, and those who set side by side wait for each other.
"""

from __future__ import annotations

import marshal
import os
import subprocess
import sys
from importlib.resources import files

from ..errors import OutputError

#: Exit code for a template that cannot be set, its words on the error stream.
_CANNOT = 3


def set_apart(template: str, data: str, fonts: str, how: dict[str, object]) -> bytes:
    """A document, as `typst.compile` makes it; of one with pages apart, the first.

    Parameters
    ----------
    template : str
        Its file in `templates`.
    data : str
        JSON for it.
    fonts : str
        Folder of the fonts.
    how : dict
        Further arguments of the typesetter that are plain data.

    Raises
    ------
    OutputError
        If the document cannot be set, or the process cannot be started or dies.
    """
    source = (files("geozone.paper") / "templates" / template).read_bytes()
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path)), "PYTHONDONTWRITEBYTECODE": "1", "RAYON_NUM_THREADS": "1"}
    try:
        done = subprocess.run([sys.executable, "-P", "-m", "geozone.paper.apart"], input=marshal.dumps((source, data, fonts, how)),
                              capture_output=True, env=environment)
    except OSError as why:
        raise OutputError("the part that sets the paper cannot be started", where=template, value=why.strerror) from why
    if done.returncode:
        raise OutputError("the paper cannot be set", where=template, value=done.stderr.decode("utf-8", "replace")[-500:] or f"code {done.returncode}")
    return done.stdout


def main() -> int:
    """The process: a request on its input, the document on its output."""
    import typst

    source, data, fonts, how = marshal.loads(sys.stdin.buffer.read())
    try:
        made = typst.compile(source, font_paths=typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[fonts]),
                             sys_inputs={"data": data}, **how)
    except typst.TypstError as why:
        sys.stderr.write(str(why))
        return _CANNOT
    sys.stdout.buffer.write(made[0] if isinstance(made, list) else made)
    return 0


if __name__ == "__main__":
    sys.exit(main())
