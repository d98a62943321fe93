"""Documents that were set one after the other become one: pages, fonts, bookmarks and what is a heading, a table or a picture.

A document of thousands of pages takes the typesetter gigabytes, so it is set in parts. Pages and bookmarks are joined by a PDF
library. The elements of the structure are some hundred to a card, too many for its memory: they go as they are, renumbered, behind
the saved file as an update of it (ISO 32000-2, 7.5.6), which any reader takes for one document.
"""

from __future__ import annotations

import hashlib
import io
import marshal
import re
import zlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial

import pikepdf
from pikepdf import Array, Dictionary, Name, ObjectStreamMode

from ..numbers.cores import on_all_cores

#: Objects of the structure that are compressed together.
_TOGETHER = 400
_TEXT = rb"\((?:[^\\()]|\\.|\((?:[^\\()]|\\.)*\))*\)"
# A text under a name (title, alternative text), which stays; a text of its own, which is an identification; a reference.
_TOKEN = re.compile(rb"/(?!ID\()\w+" + _TEXT + rb"|(" + _TEXT + rb")|\b(\d+) 0 R\b", re.DOTALL)

_TABLE = re.compile(rb"xref\s+0 (\d+)\s*\n")
_ELEMENT = b"<</Type/StructElem"
_HELD = re.compile(rb"/K\[([0-9 R]*)\]")


@dataclass
class _Structure:
    """The structure of one part, its objects as the typesetter wrote them.

    Attributes
    ----------
    root : int
        Number of the element that holds all others.
    top : bytes
        References to those that it holds.
    parents : list of int
        Numbers of the lists of a page's elements, a page each.
    names : list of (bytes, int)
        Identifications of elements in their order.
    pages : list of int
    roles : dict of str to str
        What kinds of elements of the typesetter's own count as.
    objects : bytes
        Numbers and bodies of all but the root, packed.
    """

    root: int
    parents: list[int]
    names: list[tuple[bytes, int]]
    pages: list[int]
    roles: dict[str, str]
    top: bytes
    objects: bytes


def joined(parts: Iterable[bytes], footers: Callable[[int], bytes]) -> bytes:
    """One document of several by the same template.

    Parameters
    ----------
    parts : iterable of bytes
        PDFs as the typesetter writes them, tagged, all with one title and language; asked for one by one.
    footers : callable
        Given the number of pages, a PDF without tags: what stands at the foot of every page, then a page for each page's own.

    Returns
    -------
    bytes
        PDF/A where the parts are. The same parts give the same bytes.

    Raises
    ------
    ValueError
        If a part is written in another form than this module knows. A defect.
    """
    document: pikepdf.Pdf | None = None
    structures, marks = [], []
    for part in parts:
        places = _places(part)
        with pikepdf.open(io.BytesIO(part)) as source:
            structures.append(_structure(part, places, source))
            begin = 0 if document is None else len(document.pages)
            marks += [(str(title), begin + page, place) for title, page, place in _bookmarks(source)]
            light = io.BytesIO(_without_structure(part, places, source.Root.StructTreeRoot.objgen[0]))
        if document is None:
            document = pikepdf.open(light)
        else:
            with pikepdf.open(light) as source:
                document.pages.extend(source.pages)
    if document is None:
        raise ValueError("nothing to join")
    with document:
        for number, page in enumerate(document.pages):
            page.obj.StructParents = number
        _add_footers(document, footers(len(document.pages)))
        _add_bookmarks(document, marks)
        document.Root.StructTreeRoot = document.make_indirect(Dictionary(Type=Name.StructTreeRoot))
        saved = io.BytesIO()
        document.save(saved, deterministic_id=True, object_stream_mode=ObjectStreamMode.generate)
    return _with_structure(saved.getvalue(), structures)


def _bookmarks(source: pikepdf.Pdf):
    """Title, page and place on it of each bookmark; there is one level of them."""
    page_of = {page.obj.objgen: number for number, page in enumerate(source.pages)}
    item = source.Root.Outlines.get("/First") if "/Outlines" in source.Root else None
    while item is not None:
        if "/First" in item:
            raise ValueError("bookmarks of more than one level")
        yield item.Title, page_of[item.Dest[0].objgen], [float(item.Dest[2]), float(item.Dest[3])]
        item = item.get("/Next")


def _add_bookmarks(document: pikepdf.Pdf, marks: list) -> None:
    with document.open_outline() as outline:
        outline.root.clear()
        for title, page, (left, top) in marks:
            outline.root.append(pikepdf.OutlineItem(title, page, "XYZ", left=left, top=top))


def _add_footers(document: pikepdf.Pdf, footers: bytes) -> None:
    """What stands at the foot of every page once, and each page's own, as drawings that pages refer to."""
    with pikepdf.open(io.BytesIO(footers)) as source:
        if len(source.pages) != len(document.pages) + 1:
            raise ValueError("not a footer for each page")
        common, *own = [document.copy_foreign(page.as_form_xobject()) for page in source.pages]
        shown = document.make_stream(b"/Artifact<</Type/Pagination/Subtype/Footer>>BDC q /Foot Do /FootOwn Do Q EMC")
        for page, mine in zip(document.pages, own, strict=True):
            # Pages share their resources.
            resources = Dictionary(page.obj.Resources)
            resources.XObject = Dictionary({**dict(resources.get("/XObject", Dictionary()).items()), "/Foot": common, "/FootOwn": mine})
            page.obj.Resources = resources
            page.obj.Contents = Array([page.obj.Contents, shown])


def _structure(part: bytes, places: dict[int, tuple[int, int]], source: pikepdf.Pdf) -> _Structure:
    """The structure of a part out of its bytes."""
    tree = source.Root.StructTreeRoot
    nums = tree.ParentTree.Nums
    if len(tree.K) != 1 or [int(key) for key in list(nums)[::2]] != list(range(len(source.pages))):
        raise ValueError("a structure of another form")
    parents = [entry.objgen[0] for entry in list(nums)[1::2]]
    listed = list(tree.IDTree.Names) if "/IDTree" in tree else []
    names = [(bytes(name), entry.objgen[0]) for name, entry in zip(listed[::2], listed[1::2], strict=True)]
    root, wanted, top, objects = tree.K[0].objgen[0], set(parents), None, []
    for number, (begin, end) in places.items():
        if number == root:
            held = _HELD.search(part, begin, end)
            top = held and held[1]
        elif number in wanted or part.startswith(_ELEMENT, begin):
            objects.append((number, part[begin:part.index(b"\nendobj", begin)]))
    if top is None:
        raise ValueError("a structure of another form")
    return _Structure(root, parents, names, [page.obj.objgen[0] for page in source.pages],
                      {str(own): str(role) for own, role in tree.get("/RoleMap", Dictionary()).items()}, top,
                      zlib.compress(marshal.dumps(objects), 1))


def _places(part: bytes) -> dict[int, tuple[int, int]]:
    """Where the body of each object begins and where the next one begins, by the table of a file that was written in one go."""
    table_at = int(part[part.rindex(b"startxref") + 9:].split()[0])
    found = _TABLE.match(part, table_at)
    if not found:
        raise ValueError("a table of objects of another form")
    table = part[found.end():found.end() + 20 * int(found[1])]
    begins = sorted((int(table[at:at + 10]), at // 20) for at in range(20, len(table), 20) if table[at + 17:at + 18] == b"n")
    places = {}
    for (begin, number), (end, _) in zip(begins, [*begins[1:], (table_at, 0)], strict=True):
        name = b"%d 0 obj\n" % number
        if not part.startswith(name, begin):
            raise ValueError("an object of another form")
        places[number] = begin + len(name), end
    return places


def _without_structure(part: bytes, places: dict[int, tuple[int, int]], tree: int) -> bytes:
    """The part without its structure, so that no more of it is kept than its pages."""
    kept, table = [part[:part.index(b"1 0 obj\n")]], [b"xref\n0 1\n0000000000 65535 f \n"]
    at = len(kept[0])
    for number, (begin, end) in places.items():
        if number == tree or part.startswith(_ELEMENT, begin):
            continue
        kept.append(b"%d 0 obj\n%b" % (number, part[begin:end]))
        table.append(b"%d 1\n%010d 00000 n \n" % (number, at))
        at += len(kept[-1])
    trailer = part[part.rindex(b"trailer"):part.rindex(b"startxref")]
    return b"".join([*kept, *table, trailer, b"startxref\n%d\n%%%%EOF\n" % at])


def _with_structure(saved: bytes, structures: list[_Structure]) -> bytes:
    """A saved document with the structure of its parts behind it, as an update."""
    with pikepdf.open(io.BytesIO(saved)) as document:
        pages = [page.obj.objgen[0] for page in document.pages]
        tree, trailer = document.Root.StructTreeRoot.objgen[0], document.trailer
        fixed = b"/Root %d 0 R" % trailer.Root.objgen[0] + (b"/Info %d 0 R" % trailer.Info.objgen[0] if "/Info" in trailer else b"")
        first, ident = int(trailer.Size), bytes(trailer.ID[0])
    # Objects `first` and on; the first is the element that holds those of all parts.
    bodies, held, parents, names = [b""], [], [], []
    roles: dict[str, str] = {}
    for index, one in enumerate(structures):
        objects = marshal.loads(zlib.decompress(one.objects))
        new = {old: first + len(bodies) + i for i, (old, _) in enumerate(objects)}
        new.update(zip(one.pages, pages[len(parents):len(parents) + len(one.pages)], strict=True))
        new[one.root] = first
        renumbered = _renumbering(new, {name for name, _ in one.names}, b"%06d-" % index)
        bodies += [renumbered(body) for _, body in objects]
        held.append(renumbered(one.top))
        parents += [new[number] for number in one.parents]
        names += [(b"%06d-" % index + name, new[number]) for name, number in one.names]
        roles |= one.roles
    bodies[0] = b"<</Type/StructElem/S/Document/P %d 0 R/K[%b]>>" % (tree, b" ".join(held))
    root = [b"<</Type/StructTreeRoot/K[%d 0 R]/ParentTreeNextKey %d" % (first, len(parents)),
            b"/ParentTree<</Nums[%b]>>" % b" ".join(b"%d %d 0 R" % pair for pair in enumerate(parents)),
            b"/RoleMap<<%b>>" % b"".join(f"{own}{role}".encode() for own, role in sorted(roles.items()))]
    if names:
        root.append(b"/IDTree<</Names[%b]>>" % b" ".join(b"(%b) %d 0 R" % pair for pair in names))
    return saved + _update(saved, [(tree, b"".join([*root, b">>"])), *enumerate(bodies, first)], fixed, ident)


def _renumbering(new: dict[int, int], known: set[bytes], prefix: bytes) -> Callable[[bytes], bytes]:
    """Gives an object of a part the numbers and identifications of the whole."""
    references = {b"%d" % old: b"%d 0 R" % number for old, number in new.items()}

    def put(found: re.Match) -> bytes:
        text, number = found.groups()
        if number:
            return references[number]
        if text is None:
            return found[0]
        if text[1:-1] not in known:
            raise ValueError("a text in the structure that is neither a title nor an identification")
        return b"(" + prefix + text[1:]

    return partial(_TOKEN.sub, put)


def _packed(some: list[tuple[int, bytes]]) -> tuple[bytes, bytes]:
    """Objects that are compressed together: where each begins, and what is stored."""
    places, place = [], 0
    for number, body in some:
        places.append(b"%d %d" % (number, place))
        place += len(body) + 1
    head = b" ".join(places) + b"\n"
    return head, zlib.compress(head + b"\n".join(body for _, body in some), 6)


def _update(saved: bytes, objects: list[tuple[int, bytes]], fixed: bytes, ident: bytes) -> bytes:
    """New objects of a document, compressed, and the table that says where they are."""
    out, at, seal = [b"\n"], len(saved) + 1, hashlib.sha256(saved[-4096:])
    number, rows = max(number for number, _ in objects) + 1, []
    pieces = [objects[begin:begin + _TOGETHER] for begin in range(0, len(objects), _TOGETHER)]
    for some, (head, packed) in zip(pieces, on_all_cores(_packed, pieces), strict=True):
        rows += [(one, 2, number, index) for index, (one, _) in enumerate(some)]
        seal.update(packed)
        stream = b"%d 0 obj\n<</Type/ObjStm/N %d/First %d/Filter/FlateDecode/Length %d>>stream\n%b\nendstream\nendobj\n" % (
            number, len(some), len(head), len(packed), packed)
        rows.append((number, 1, at, 0))
        out.append(stream)
        at += len(stream)
        number += 1
    rows.append((number, 1, at, 0))
    rows.sort()
    table = zlib.compress(b"".join(kind.to_bytes(1, "big") + where.to_bytes(5, "big") + index.to_bytes(2, "big") for _, kind, where, index in rows), 6)
    # The first row is the root of the structure, which lay in the saved document; all others follow each other.
    listed = b"%d 1 %d %d" % (rows[0][0], rows[1][0], len(rows) - 1)
    before = int(saved[saved.rindex(b"startxref") + 9:].split()[0])
    out.append(b"%d 0 obj\n<</Type/XRef/Size %d/W[1 5 2]/Index[%b]/Prev %d%b/ID[<%b><%b>]/Filter/FlateDecode/Length %d>>stream\n%b\nendstream\nendobj\n"
               b"startxref\n%d\n%%%%EOF\n" % (number, number + 1, listed, before, fixed, ident.hex().encode(), seal.hexdigest()[:32].encode(),
                                             len(table), table, at))
    return b"".join(out)
