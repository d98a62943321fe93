"""The line of every key of a TOML file, told apart by a number that each value carries: its own line."""

import tomllib

import pytest

from geozone.jobs.jobplaces import Places

# Every leaf number is the line that it stands on, so the file is its own answer, read by the standard library.
WILD = r'''
top = 2
"quoted key" = 3
dotted.key = 4
dotted . "other.key" = 5  # a remark with [brackets] and = signs
text = '''+'"'*3+r'''
[not] a = section
key = 1 # nor a key
'''+'"'*3+r''' # and on
'after' = 10

[ spaced . name ]   # [[no]]
a = 13
[[list]]
b = 15
[[list.inner]]
c = 17
[[list.inner]]
c = 19
[[list]]
[list.table]
d = 22
[[list.inner]]
c = 24
inline = { e = 25, f = [25, { g = 25 }], "h" = 'a # b', i = { j = 25 } }
many = [
  27, # [ a remark ]
  28, [28,
    29]]
strings = ["a]b", 'c}d', "e\\", "f\"]"]
last = 31
[list.table.more]
[[plain]]
k = 34
'''


def leaves(value, path=()):
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else None
    if inner is None:
        yield path, value
    else:
        for key, one in inner:
            yield from leaves(one, path + (key,))


def test_every_number_stands_on_its_own_line():
    places, numbers = Places("", WILD), 0
    for path, value in leaves(tomllib.loads(WILD)):
        assert path in places.line, path
        if isinstance(value, int):
            numbers += 1
            assert places.line[path] == value, path
    assert numbers == 21


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_lines_are_counted_alike_on_every_system(newline):
    text = newline.join(["# a", "[job]", "title = '''", "x = 1", "'''", "year = 1"])
    assert Places("j", text).where("job", "year") == "j, line 6"
    assert Places("j", text).where("job", "none") == "j, line 2"
    assert Places("j", text).where("none") == "j" and Places().where("none") is None


def test_an_empty_list_of_tables_starts_afresh_in_each():
    places = Places("", "[[a]]\n[[a.b]]\nx=1\n[[a.b]]\nx=1\n[[a]]\n[[a.b]]\nx=1\n")
    assert places.line["a", 0, "b", 1, "x"] == 5 and places.line["a", 1, "b", 0, "x"] == 8
    assert ("a", 1, "b", 1) not in places.line
