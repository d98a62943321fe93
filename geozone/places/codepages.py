"""Which code page a text is in: the one under which its bytes make the words of one language, headings first."""

from __future__ import annotations

import re
import unicodedata

from .headings import is_heading, languages_of, plain

#: Code pages in use on office machines, commoner first, in words for messages.
ENCODINGS = {
    "cp1252": "CP1252 (Windows, western Europe)", "cp850": "CP850 (DOS, western Europe)",
    "cp1250": "CP1250 (Windows, central Europe)", "cp1251": "CP1251 (Windows, Cyrillic)",
    "cp1253": "CP1253 (Windows, Greek)", "cp1254": "CP1254 (Windows, Turkish)", "mac_roman": "Mac Roman",
    "cp932": "Shift-JIS (CP932, Japanese)", "euc_jp": "EUC-JP (Japanese)", "gb18030": "GB18030 (Chinese, simplified)",
    "big5": "Big5 (Chinese, traditional)", "cp949": "CP949 (Korean)", "iso8859_2": "ISO 8859-2 (central Europe)",
    "cp852": "CP852 (DOS, central Europe)", "koi8_r": "KOI8-R (Cyrillic)", "cp866": "CP866 (DOS, Cyrillic)"}
#: Lead bytes of the everyday characters of each double-byte code page: the first level of JIS X 0208, GB 2312 and Big5,
#: the Hangul of KS X 1001. From memory of those standards' layout.
_EVERYDAY = {"cp932": [(0x81, 0x84), (0x88, 0x98)], "euc_jp": [(0xA1, 0xA8), (0xB0, 0xCF)], "gb18030": [(0xA1, 0xA3), (0xB0, 0xD7)],
             "big5": [(0xA1, 0xA3), (0xA4, 0xC6)], "cp949": [(0xA1, 0xA3), (0xB0, 0xC8)]}
#: Letters of languages written in Latin script, and the code pages that hold them.
_WEST = {"de": "äöüß", "fr": "éèêëàâçîïôùûœæÿ", "es": "áéíóúüñ", "pt": "áéíóúâêôãõàçü", "it": "àèéìíòóùú", "nl": "éëïöüèêç",
         "da": "æøåéöäü", "sv": "åäöéü", "is": "áéíóúýðþæö", "ca": "àèéíïòóúüç", "et": "õäöüšž"}
_EAST = {"pl": "ąćęłńóśźż", "cs": "áčďéěíňóřšťúůýž", "sk": "áäčďéíľňóôšťúýž", "hu": "áéíóöőúüű", "ro": "ăâîşţșț", "hr": "čćđšž",
         "de": "äöüß"}
_TURKISH = {"tr": "çğıöşüâîûİ"}
_LATIN = {"cp1252": _WEST, "cp850": _WEST, "mac_roman": _WEST, "cp1250": _EAST, "iso8859_2": _EAST, "cp852": _EAST,
          "cp1254": _TURKISH}
#: Languages whose headings speak for a code page.
_SPEAKS = {"cp1250": {"pl", "cs", "hu"}, "iso8859_2": {"pl", "cs", "hu"}, "cp852": {"pl", "cs", "hu"}, "cp1254": {"tr"},
           "cp1251": {"ru", "uk"}, "koi8_r": {"ru", "uk"}, "cp866": {"ru", "uk"}, "cp1253": {"el"}, "cp932": {"ja"},
           "euc_jp": {"ja"}, "gb18030": {"zh"}, "big5": {"zh"}, "cp949": {"ko"}}
#: How much rarer a code page is than those without an entry: a tie goes to the common one.
_PRIOR = {"cp1252": 0.3, "cp852": -0.3, "iso8859_2": -0.3, "koi8_r": -0.3, "cp866": -0.3, "euc_jp": -0.3, "big5": -0.2}
_VOWELS = set("aeiouyáéíóúàèìòùâêîôûäëïöüåæøœãõąęıаеёиоуыэюяіїєαεηιουωάέήίόύώ")
#: Headings of western languages that are not English too; they speak for a western code page, all alike.
_WESTERN = set("breite lange laenge latitud longitud latitudine longitudine breedte lengte nom nombre nome naam puissance potencia "
               "potenza vermogen leistung rue calle via rua straat strasse numero nummer fuseauhoraire zeitzone".split())
_UNIT_SIGNS = set("°′″²³ºª")
_PUNCTUATION = set("–—‘’“”„«»€§·…\u00a0№、。・（）：；！？「」")
_MOST_BYTES = 20_000
#: Two code pages whose scores lie closer are in doubt; scores run from about -3 to 1, a known heading adds to them.
_DOUBT = 0.25


def recognise(data: bytes) -> tuple[str, tuple[str, ...]]:
    """The code page of a text that is not UTF-8, and others that are as likely and read differently.

    Parameters
    ----------
    data : bytes

    Returns
    -------
    name : str
        A key of `ENCODINGS`.
    rivals : tuple of str
        Empty where nothing is in doubt.
    """
    sample = _sample(data)
    scores: dict[str, float] = {}
    texts: dict[str, str] = {}
    for name in ENCODINGS:
        try:
            text = sample.decode(name)
        except UnicodeDecodeError:
            # one letter lost in a long list must not rule out the western code pages, which have holes
            if name not in ("cp1252", "cp850"):
                continue
            text = sample.decode(name, errors="replace")
        if text not in texts.values():
            texts[name] = text
            scores[name] = _score(text, name)
    ranked = sorted(scores, key=lambda name: -scores[name])
    best = ranked[0]
    near = [name for name in ranked[1:] if scores[name] > scores[best] - _DOUBT]
    if near:
        best, near = _second_opinion(sample, best, near)
    return best, tuple(near[:3])


def _sample(data: bytes) -> bytes:
    """The headings and the lines with bytes that ASCII has not, so that long lists cost no more than short ones."""
    lines = data.splitlines(keepends=True)
    told = [line for line in lines[25:] if not line.isascii()]
    return b"".join(lines[:25] + told)[:_MOST_BYTES].rsplit(b"\n", 1)[0] + b"\n" if len(data) > _MOST_BYTES else data


def _score(text: str, name: str) -> float:
    cells = [cell.strip(" \"") for line in text.splitlines()[:25] for cell in re.split(r"[;,\t|]", line)]
    spoken = languages_of(cells)
    bonus = 0.4 * min(3, sum(count for language, count in spoken.items() if language in _SPEAKS.get(name, ())))
    bonus += 0.2 * (_LATIN.get(name) is _WEST and any(plain(cell) in _WESTERN for cell in cells))
    bonus += 0.4 * min(2, sum(not cell.isascii() and is_heading(cell) for cell in cells))
    return _letters(text, name) + bonus + _PRIOR.get(name, 0.0)


def _letters(text: str, name: str) -> float:
    """How well the characters beyond ASCII make words, from 1 (all of them) down."""
    if name in _EVERYDAY:
        return _double_bytes(text, name)
    total = count = 0.0
    foreign = _foreign(text, name)
    letters = _small(text)
    for match in re.finditer(r"[^\x00-\x7f]", text):
        char, before, after = match[0], text[max(0, match.start() - 1):match.start()], text[match.end():match.end() + 1]
        count += 1
        if char.isalpha() and char not in _UNIT_SIGNS:
            beside = [c for c in (before, after) if c.isalpha()]
            total += 1.0 if beside else -0.5
            total -= 3.0 * any(_script(c) != _script(char) for c in beside)
            # a capital behind a small letter, or a small one behind two capitals, is another letter misread
            total -= 3.0 * (char.isupper() and before.islower())
            total -= 1.5 * (char.islower() and len(before) == 1 and before.isupper() and after.isupper())
            total -= 1.5 * (char.lower() in foreign)
            total -= 0.5 * (char in "þÞðÐ")  # Icelandic, or Turkish misread: nothing to be sure of
            total -= 2.0 * before.isdigit()
            total -= 2.0 * (char in "ΰΐ" or char == "ς" and after.isalpha())
            # Portuguese has its o with a tilde before e only, Hungarian its o with a double acute anywhere
            total -= 1.0 * (char.casefold() == "õ" and after.casefold() != "e" and not letters <= set(_WEST["et"]))
            # Spanish has its n with a tilde before vowels, Polish its n with an acute elsewhere
            total -= 1.0 * (char == "ñ" and after.casefold() not in _VOWELS) + 1.0 * (
                char == "ń" and after.casefold() in _VOWELS and after != "")
        elif char in _UNIT_SIGNS:
            ordinal = char in "ºª" and (before.isalpha() or before == ".") and not after.isalpha()  # as in No.
            total += 1.0 if before.isdigit() or ordinal or before in ("(", "[", " ") else -2.0
        elif char in _PUNCTUATION:
            inside = before.isalpha() and after.isalpha()
            if char in "–—":
                total += 0.8 if not (before.isalpha() or after.isalpha()) else -0.5
            elif char in "‘’":
                total += 0.8 if before.isalpha() or after.isalpha() else 0.0
            else:
                total += -1.5 if inside and not (char == "·" and before == after == "l") else 0.3
        else:
            total -= 3.0 if unicodedata.category(char) in ("Cc", "Cn", "Co") else 2.0
    # in words of one script there is a vowel in every second to fourth letter
    if name in ("cp1251", "koi8_r", "cp866", "cp1253") and letters:
        each = [c.casefold() for c in text if c.isalpha() and not c.isascii()]
        share = sum(c in _VOWELS for c in each) / len(each)
        total -= 0.6 * count * (not 0.25 <= share <= 0.7)
    return total / max(1.0, count)


def _double_bytes(text: str, name: str) -> float:
    total = count = 0.0
    for char in text:
        if char.isascii():
            continue
        count += 1
        code = char.encode(name)
        everyday = any(low <= code[0] <= high for low, high in _EVERYDAY[name]) and len(code) == 2
        script = _script(char)
        if not everyday or len(code) == 1:
            total -= 1.5  # half-width kana, rare characters, private use
        else:
            total += {"CJK": 1.0, "HIRAGANA": 1.0, "KATAKANA": 1.0, "HANGUL": 1.0 if name == "cp949" else -1.0}.get(script, 0.5)
    # the Hangul fill 25 rows of the plane, the everyday Han of GB 2312 40: that all fall in the 25 is a proof, by and by
    korean = min(0.6, 0.1 * count) if name == "cp949" and total == count else 0.0
    return total / max(1.0, count) + korean


def _foreign(text: str, name: str) -> set[str]:
    """Letters that the one language which explains most of them does not have."""
    if name not in _LATIN:
        return set()
    letters = _small(text)
    return min((letters - set(own) for own in _LATIN[name].values()), key=len, default=set())


def _small(text: str) -> set[str]:
    """The letters beyond ASCII, as small ones."""
    return {c.lower() if len(c.lower()) == 1 else c for c in text if c.isalpha() and not c.isascii() and c not in _UNIT_SIGNS}


def _script(char: str) -> str:
    return unicodedata.name(char, "?").split(" ")[0].split("-")[0]


def _second_opinion(sample: bytes, best: str, near: list[str]) -> tuple[str, list[str]]:
    """charset-normalizer on what is in doubt; it decides only where it finds one of them clearly the least odd."""
    import charset_normalizer

    found = {}
    for name in (best, *near):
        match = charset_normalizer.from_bytes(sample, cp_isolation=[name], language_threshold=0.1).best()
        if match is not None:
            found[name] = match.coherence - 2 * match.chaos
    ranked = sorted(found, key=lambda name: -found[name])
    if len(ranked) == 1 or len(ranked) > 1 and found[ranked[0]] > found[ranked[1]] + 0.2:
        return ranked[0], []
    return best, near
