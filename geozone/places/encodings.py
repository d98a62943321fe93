"""The encoding of a text file: by its mark, by UTF-8's own proof, else by which code page makes words of the bytes."""

from __future__ import annotations

import codecs
import re

from ..errors import InputError
from .codepages import ENCODINGS, recognise

_BOMS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF32_LE, "utf-32"), (codecs.BOM_UTF32_BE, "utf-32"),
         (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1b]")


def decode(data: bytes, file: str, encoding: str | None = None) -> tuple[str, list[str]]:
    """The text of a file and notes on its encoding; raises as `decoded`."""
    text, _, notes = decoded(data, file, encoding)
    return text, notes


def decoded(data: bytes, file: str, encoding: str | None = None) -> tuple[str, str, list[str]]:
    """The text of a file, the encoding that it is in, and notes on it.

    Raises
    ------
    InputError
        If it is no text, cannot be read as stated, or may be in two encodings that give different words.
    """
    if encoding is not None:
        try:
            name = codecs.lookup(encoding).name
            return data.decode("utf-8-sig" if name == "utf-8" else name), name, []
        except UnicodeError as why:
            raise InputError(f"the file cannot be read as {encoding}", where=file, value=str(why),
                             next_step="leave [reading] encoding out to let geozone find it") from None
        except (LookupError, ValueError):  # a name with a null character is a value error
            raise InputError("the stated encoding is not known", where=file, value=encoding,
                             next_step='for example [reading] encoding = "utf-8", "cp1252" or "shift_jis"') from None
    for bom, name in _BOMS:
        if data.startswith(bom):
            try:
                return data.decode(name), name, ([] if name == "utf-8-sig" else [f"{file}: read as {name.upper()}"])
            except UnicodeDecodeError as why:
                raise InputError(f"the file begins as {name.upper()} and is not", where=file, value=str(why),
                                 next_step="save it again as CSV UTF-8") from None
    sample = data[:4000]
    for name, zeros, others in (("utf-16-le", sample[1::2], sample[0::2]), ("utf-16-be", sample[0::2], sample[1::2])):
        # western text in UTF-16 has a zero in every pair, East Asian text in each digit and comma
        if len(sample) >= 4 and zeros.count(0) > 0.1 * len(zeros) and others.count(0) < 0.02 * len(others):
            try:
                return data.decode(name), name, [f"{file}: read as UTF-16 without a byte order mark"]
            except UnicodeDecodeError:
                break
    if _CONTROL.search(data[:100_000].decode("latin-1")):
        raise InputError("this is not a text file", where=file, value=repr(data[:12]),
                         rule="a CSV is text in UTF-8, UTF-16 or a code page such as CP1252",
                         next_step="open it in the program that made it and save it as CSV UTF-8 or .xlsx")
    try:
        return data.decode("utf-8"), "utf-8", []
    except UnicodeDecodeError:
        pass
    patched = data.decode("utf-8", errors="replace")
    bad = patched.count("�")
    good = len(patched) - len(patched.encode("ascii", "ignore")) - bad
    if good > 10 * bad:
        return patched, "utf-8", [f"{file}: {bad} characters are not UTF-8 and show as �; the rest is"]
    name, rivals = recognise(data)
    if rivals:
        raise _in_doubt(data, file, (name, *rivals))
    return (data.decode(name, errors="replace"), name,
            [f"{file}: not UTF-8; read as {ENCODINGS[name]}. If names look wrong, say [reading] encoding"])


def _in_doubt(data: bytes, file: str, names: tuple[str, ...]) -> InputError:
    texts = {name: data.decode(name, errors="replace") for name in names}
    first = texts[names[0]]
    lines = [n for n, line in enumerate(first.splitlines()) if not line.isascii()]
    differ = next((n for n in lines if len({tuple(t.splitlines()[n:n + 1]) for t in texts.values()}) > 1), lines[0])
    said = "; ".join(f"{ENCODINGS[name]}: {_words(text, differ)!r}" for name, text in texts.items())
    return InputError("the encoding of the file cannot be told for certain", where=f"{file}, line {differ + 1}", value=said,
                      rule="it is not UTF-8, and these read differently; one of them is right",
                      next_step="state the one that reads well: " + " or ".join(f'[reading] encoding = "{n}"' for n in names))


def _words(text: str, line: int) -> str:
    found = [w for w in re.findall(r"[^\W\d_]+", (text.splitlines()[line:line + 1] or [""])[0]) if not w.isascii()]
    return " ".join(found[:4])
