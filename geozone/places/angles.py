"""One written coordinate, or two in one text, turned into degrees; and where that fails, why."""

from __future__ import annotations

import re

import lat_lon_parser

from .numerals import narrow

_SIGNS = str.maketrans({**dict.fromkeys("\u2032\u2018\u2019\u00b4`\u02b9\u02bc", "'"),
                        **dict.fromkeys("\u2033\u201c\u201d\u201e\u02ba", '"'),
                        **dict.fromkeys("\u00ba\u02da\u2218\u1d52\u5ea6\ub3c4", "\u00b0"),
                        **dict.fromkeys("\u5206\ubd84", "'"), **dict.fromkeys("\u79d2\ucd08", '"')})
_WORDS = [
    ("degrees|degree|degrés|degré|degr|deg|grados|grado|gradi|graus|grau|graden|graad|grad", "\u00b0"),
    ("minutes|minute|minuten|minutos|minuto|minuti|min", "'"),
    ("seconds|second|secondes|seconde|sekunden|sekunde|segundos|segundo|secondi|seconden|sec|sek|seg", '"'),
    ("north|nördlich|nord|norte|noorden|noord|norden", "N"),
    ("south|südlich|süden|süd|sued|sud|sur|sul|zuiden|zuid", "S"),
    ("west|westlich|westen|ouest|oeste|ovest", "W"),
    ("east|östlich|osten|ost|este|leste|est|oosten|oost", "E"),
]
# a digit may stand against the word (45deg), a letter may not
# (Chinese, Japanese and Korean put the hemisphere before the number, Russian behind it)
_CJK = [("北緯|北纬|북위", "N"), ("南緯|南纬|남위", "S"), ("東経|東經|东经|동경", " E"), ("西経|西經|西经|서경", " W"),
        (r"с\.?\s?ш\.?|северной широты", "N"), (r"ю\.?\s?ш\.?|южной широты", "S"), (r"в\.?\s?д\.?|восточной долготы", "E"),
        (r"з\.?\s?д\.?|западной долготы", "W")]
_WHOLE_WORDS = [(rf"(?<![^\W\d_])(?:{words})(?![^\W\d_])\.?", sign) for words, sign in _WORDS]
_WHOLE_WORDS.append((r"^\s*(?:lat(?:itude)?|lon(?:g(?:itude)?)?|lng)\b\s*[:=]?", ""))
_PATTERNS = [(re.compile(pattern, re.IGNORECASE), sign) for pattern, sign in [*_CJK, *_WHOLE_WORDS]]
_WORD = re.compile(r"[^\W\d_]{2}|[\u0400-\u04ff]")
#: The commonest writing, so that long lists are read in one step a cell: 34°55'12.5"S.
_USUAL = re.compile(r"([NSEW]?)\s?([+-]?)(\d{1,3})\u00b0\s?([0-5]?\d)['\u2032]\s?([0-5]?\d(?:[.,]\d+)?)(?:[\"\u2033]|'')\s?([NSEW]?)",
                    re.ASCII)
_DECIMAL_COMMA = re.compile(r"(?<=\d),(?=\d)")
_UNIT_LETTER = re.compile(r"(?<=\d)\s*[DMdm]")
_ANGLE = re.compile(
    r"(?P<before>[NSEWO])?\s*(?P<sign>[+-])?\s*(?P<deg>\d{1,3}(?:\.\d*)?)\s*"
    r"(?:(?:\u00b0|:|-|\s)\s*(?:(?P<min>\d{1,2}(?:\.\d*)?)\s*(?:'|:|-|\s|$|(?=[NSEWO]))\s*"
    r"(?:(?P<sec>\d{1,2}(?:\.\d*)?)\s*(?:\"|'')?\s*)?)?)?(?P<after>[NSEWO])?")


def parse_angle(text: str, axis: str | None = None, o_means: str | None = None) -> tuple[float, str | None]:
    """Degrees of one written coordinate, and the axis that its hemisphere letter names.

    Reads decimal degrees, degrees and minutes, degrees-minutes-seconds, with the usual signs, letters or words,
    the hemisphere before or behind. The arithmetic is lat-lon-parser's; what it would let pass (1234567, a unit
    letter s taken for south) is refused here first.

    Parameters
    ----------
    text : str
    axis : {"lat", "lon"}, optional
        The axis the value should be of.
    o_means : {"E", "W"}, optional
        What the letter O stands for: east (German, Dutch) or west (French, Spanish, Italian, Portuguese).

    Returns
    -------
    value_deg : float
        North and east positive.
    named : "lat", "lon" or None

    Raises
    ------
    ValueError
        With a reason in plain words.
    """
    usual = _USUAL.fullmatch(text)
    if usual and (found := _of_usual(usual, axis)) is not None:
        return found
    value = with_signs(text).strip(" ,;").rstrip(". ")
    value = _DECIMAL_COMMA.sub(".", value).strip()
    if _UNIT_LETTER.search(value):
        value = _with_unit_signs(value)
    value = value.upper()
    match = _ANGLE.fullmatch(value)
    if not match:
        raise ValueError("not a number or a degree that can be read")
    letters = [c for c in (match["before"], match["after"]) if c]
    if len(letters) == 2:
        raise ValueError("two hemisphere letters")
    letter = letters[0] if letters else ""
    if letter == "O":
        if o_means is None:
            raise ValueError("the letter O means east in some languages and west in others; write E or W")
        letter = o_means
    named = "lat" if letter in ("N", "S") and letter else "lon" if letter else None
    if axis and named and named != axis:
        raise ValueError(f"{'latitude' if axis == 'lat' else 'longitude'} with the hemisphere letter {letter}")
    if match["sign"] == "-" and letter in ("N", "E") and letter:
        raise ValueError(f"a minus sign and the hemisphere letter {letter} contradict each other")
    parts = [p.rstrip(".") for p in (match["deg"], match["min"], match["sec"]) if p]
    if any("." in p for p in parts[:-1]):
        raise ValueError("a fraction must stand in the last part only")
    if any(float(p) > 60 for p in parts[1:]):
        raise ValueError("minutes and seconds go up to 60")
    limit = 90 if (named or axis) == "lat" else 180
    degrees = abs(lat_lon_parser.parse(" ".join(parts))) if float(parts[0]) <= 180 else float(parts[0])
    if degrees > limit and (named or len(parts) > 1):
        raise ValueError(f"{'latitude' if limit == 90 else 'longitude'} outside -{limit}..{limit}")
    return (-degrees if match["sign"] == "-" or letter in ("S", "W") and letter else degrees), named


def with_signs(text: str) -> str:
    """Digits, signs and words of any script as 0-9, ° ' " and N S E W, so that one pattern reads them."""
    value = narrow(text).translate(_SIGNS)
    if _WORD.search(value):
        for pattern, sign in _PATTERNS:
            value = pattern.sub(sign, value)
    return value


def _of_usual(match: re.Match, axis: str | None) -> tuple[float, str | None] | None:
    """Degrees of the usual writing; None leaves what is odd about it to the full reading."""
    before, sign, degrees, minutes, seconds, after = match.groups()
    letter = before or after
    named = None if not letter else "lat" if letter in "NS" else "lon"
    value = int(degrees) + int(minutes) / 60 + float(seconds.replace(",", ".")) / 3600
    if before and after or sign and letter or axis and named and named != axis or value > (
            90 if (named or axis) == "lat" else 180):
        return None
    return (-value if sign == "-" or letter and letter in "SW" else value), named


def _with_unit_signs(value: str) -> str:
    """Units written as letters, as signs: in 45d12m30s the last letter is a unit, in 45 12 30 s a hemisphere."""
    if re.fullmatch(r".*\d\s*D.*\d\s*M.*\d\s*S", value):
        raise ValueError("the letter S may mean seconds or south; write 34 55 12 S or 34d55m12s S")
    units = re.fullmatch(r"(.*\d\s*[dD].*?\d\s*[mM]\s*[\d.]+)\s*[sS]\s*([NSEWOnsewo]?)", value)
    if units:
        value = f'{units[1]}"{units[2]}'
    return re.sub(r"(?<=\d)\s*[Dd]", "\u00b0", re.sub(r"(?<=\d)\s*[Mm]", "'", value))


def parse_pair(text: str, o_means: str | None = None) -> tuple[float, float, bool]:
    """Two written coordinates in one text: first, second, and whether letters say that they are lat, lon.

    With letters the result is always (lat, lon, True); without, the order of the text, False.
    Raises ValueError with a reason.
    """
    value = re.sub(r"^geo:", "", with_signs(text).strip().strip("()[]{}").strip(), flags=re.IGNORECASE)
    found = []
    for pattern in (r"[;|/]", r",\s", r"\s,", r",", r"\s", r"(?<=[\d\"'\u00b0])(?=[NSEW]\s*\d)|(?<=[NSEW])(?=\d)"):
        for cut in re.finditer(pattern, value):
            try:
                first = parse_angle(value[:cut.start()], None, o_means)
                second = parse_angle(value[cut.end():], None, o_means)
            except ValueError as why:
                last = why
                continue
            halves = [len(re.findall(r"\d+(?:[.,]\d+)?", v)) for v in (value[:cut.start()], value[cut.end():])]
            if halves[0] == halves[1]:
                found.append((first, second))
        if found:
            break
    if not found:
        lone = re.search(r"letter O", str(locals().get("last", "")))
        raise ValueError(str(last) if lone else "not two coordinates that can be read")
    (one, first_axis), (other, second_axis) = found[0]
    if len({(a[0], b[0]) for a, b in found}) > 1:
        raise ValueError("two coordinates, but not clear where the first ends; put a semicolon between them")
    if first_axis and first_axis == second_axis:
        raise ValueError("two latitudes or two longitudes")
    if first_axis == "lon" or second_axis == "lat":
        return other, one, True
    return one, other, bool(first_axis or second_axis)


def any_o(values: list[str]) -> bool:
    return re.search(r"[\d\s\"'\u2033\u2032]O(?![A-Z])|(?:^|\x1f)O(?![A-Z])", "\x1f".join(values).upper()) is not None


def o_letter(values: list, headings: str = "") -> str | None:
    """What a lone O stands for in this list: by the other letters in it, else by the language of the headings."""
    joined = "\x1f".join(str(v).upper() for v in values)
    west = re.search(r"(?<![A-Z])W(?![A-Z])", joined)
    east = re.search(r"(?<![A-Z])E(?![A-Z])", joined)
    if bool(west) != bool(east):
        return "E" if west else "W"
    if re.search(r"breite|l(?:ä|ae)nge|breedte|lengte", headings, re.IGNORECASE):
        return "E"
    if re.search(r"latitud\b|longitud\b|latitudine|longitudine|coord[eo]n|position géo", headings, re.IGNORECASE):
        return "W"
    return None
