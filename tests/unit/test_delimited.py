import pytest

from geozone.errors import InputError
from geozone.places.codepages import recognise
from geozone.places.delimited import find_separator, read_rows
from geozone.places.encodings import decode

GERMAN = "id;Straße;Größe\n1;Müllerstraße 5;schön\n2;Übergang Öl;Äcker\n"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252", "cp850"])
def test_every_encoding_gives_the_same_text(encoding):
    assert decode(GERMAN.encode(encoding), "a.csv")[0] == GERMAN


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
def test_utf16_without_a_mark(encoding):
    text, notes = decode(GERMAN.encode(encoding), "a.csv")
    assert text == GERMAN and "UTF-16" in notes[0]


@pytest.mark.parametrize("encoding, word", [("cp1252", "CP1252"), ("cp850", "CP850")])
def test_a_legacy_encoding_is_said(encoding, word):
    assert word in decode(GERMAN.encode(encoding), "a.csv")[1][0]


@pytest.mark.parametrize("text", ["Café de l'Été\nRue Saint-Rémy", "São João, Avenida Praça", "Año nuevo, Peñón",
                                  "Città è più", "34°55'12\"S", "ÉCOLE DES PEUPLIERS À NÎMES"])
@pytest.mark.parametrize("encoding", ["cp1252", "cp850"])
def test_legacy_encodings_told_apart(text, encoding):
    assert recognise(text.encode(encoding)) == (encoding, ())


def test_stated_encoding_wins_and_is_checked():
    assert decode("é".encode("cp850"), "a.csv", "cp850")[0] == "é"
    with pytest.raises(InputError, match="not known"):
        decode(b"a", "a.csv", "klingon")
    with pytest.raises(InputError, match="cannot be read as"):
        decode(b"\xff\xfe\xe9", "a.csv", "utf-8")


def test_binary_is_refused():
    with pytest.raises(InputError, match="not a text file"):
        decode(bytes(range(256)), "a.csv")


def test_a_few_bad_bytes_do_not_turn_the_rest_into_rubbish():
    text, notes = decode("Zoë ".encode() * 40 + b"\xe9", "a.csv")
    assert text.startswith("Zoë Zoë") and "�" in text and "1 characters are not UTF-8" in notes[0]


@pytest.mark.parametrize("text, separator", [
    ("id,lat,lon\n1,-35.1,141\n", ","), ("id;lat;lon\n1;-35,1;141,0\n", ";"), ("id\tlat\tlon\n1\t-35,1\t141,0\n", "\t"),
    ("id|lat|lon\n1|-35.1|141\n", "|"), ("position\n-35.1, 141.0\n-35.2, 141.1\n", None),
    ("id\tposition (lat, lon)\n1\t-35.1, 141.0\n", "\t"), ("Sites 2027\n\nid,lat,lon\n1,-35,141\n2,-35,141\n", ","),
    ("name\nalpha\nbeta\n", None)])
def test_separators(text, separator):
    assert find_separator(text) == separator


def test_the_line_that_names_the_separator_is_no_row():
    rows, separator, _ = read_rows(b"sep=|\nid|lat\n1|2\n", "a.csv")
    assert rows == [["id", "lat"], ["1", "2"]] and separator == "|"


def test_an_open_quotation_does_not_swallow_rows():
    with pytest.raises(InputError, match="quotation mark"):
        read_rows(b'id,lat\n"1,2\n3,4\n', "a.csv")
    with pytest.raises(InputError, match="quotation mark"):
        read_rows(b'id,lat\n"1,2\n' + b"3,4\n" * 50 + b'5,6"\n', "a.csv")


def test_quotes_inside_values_are_texts():
    rows, _, _ = read_rows(b'id,name\n1,"Old" Mill\n2,12" pole\n', "a.csv", separator=",")
    assert rows[1:] == [["1", "Old Mill"], ["2", '12" pole']]


def test_separator_must_be_one_character():
    with pytest.raises(InputError, match="one character"):
        read_rows(b"a,b", "a.csv", separator="ab")
