"""Cards that are set in parts are one archival document, as other programs read it: pages, text, bookmarks, structure, fonts."""

import io
import re
import shutil
import subprocess
from dataclasses import replace

import pikepdf
import pytest

from geozone.jobs.examples import examples_folder
from geozone.jobs.job import read_job
from geozone.paper import joining
from geozone.paper.carddata import CardOptions, group_cards
from geozone.paper.cards import card_head, cards_pdf
from geozone.paper.options import SheetOptions
from geozone.paper.sheet import sheet_pdf
from geozone.paper.typesetting import typeset
from geozone.paper.words import words_in
from geozone.trade.readings import Display

NEEDS_POPPLER = pytest.mark.skipif(not shutil.which("pdfinfo"), reason="pdfinfo and pdftotext (Debian: poppler-utils) are not installed")


@pytest.fixture(scope="module")
def border(example_run):
    return example_run("border")


@pytest.fixture(scope="module")
def cards(border):
    job = read_job(examples_folder() / "border" / "job.toml")
    return group_cards(border, CardOptions(), Display(), job.basis.keypad.clocks)[:3]


@pytest.fixture(scope="module", params=["A4", "A6"])
def both(request, border, cards):
    """Three cards in one part and in parts of two; some sites without a setting, whose page comes last."""
    sites = border.sites.copy()
    sites.loc[sites.index[:2], "group"] = ""
    left = replace(border, sites=sites)
    return [cards_pdf(left, cards, CardOptions(request.param), Display(), at_once) for at_once in (len(cards), 2)]


def said(pdf, tmp_path, *command):
    (tmp_path / "a.pdf").write_bytes(pdf)
    return subprocess.run([command[0], *command[1:], str(tmp_path / "a.pdf"), *(["-"] if command[0] == "pdftotext" else [])],
                          capture_output=True, text=True, check=True).stdout


@NEEDS_POPPLER
def test_parts_have_the_structure_of_the_whole(both, tmp_path):
    """As poppler reads it; with the texts of the elements it takes a minute, and these are compared below."""
    one, parted = (re.sub(r"\d{6}-U\d+(?=x\d+y\d+)", "", said(pdf, tmp_path, "pdfinfo", "-struct")) for pdf in both)
    assert one.count("\n") > 1000 and one.splitlines() == parted.splitlines()


@NEEDS_POPPLER
def test_parts_read_as_the_whole_does(both, border, cards, tmp_path):
    """poppler, which shares nothing with how the parts are joined, finds the same text on the same pages."""
    one, parted = (said(pdf, tmp_path, "pdftotext", "-layout") for pdf in both)
    assert one == parted
    pages = parted.split("\f")[:-1]
    for number, page in enumerate(pages, 1):
        assert re.search(rf"\b{number} / {len(pages)}\s*$", page), number
    assert "2 sites" in pages[-1]


def test_parts_have_the_bookmarks_title_language_and_pages_of_the_whole(both, border, cards):
    words, found = words_in(), []
    for pdf in both:
        with pikepdf.open(io.BytesIO(pdf)) as document:
            assert document.check_pdf_syntax() == []
            pages = {page.obj.objgen: number for number, page in enumerate(document.pages)}
            with document.open_outline() as outline, document.open_metadata() as meta:
                marks = [(item.title, pages[item.destination[0].objgen], [float(v) for v in list(item.destination)[2:4]]) for item in outline.root]
                found.append((marks, len(pages), str(document.Root.Lang), meta["dc:title"], [list(map(float, page.mediabox)) for page in document.pages]))
    assert found[0] == found[1]
    assert [title for title, _, _ in found[1][0][:-1]] == [card_head(card, words) for card in cards] and found[1][2] == "en"
    assert found[1][3] == border.title


def archival(pdf, structured=True):
    """ISO 19005-2 as far as the parts of the file show it: output intent, identification, fonts, transparency, actions, encryption."""
    with pikepdf.open(io.BytesIO(pdf)) as document:
        assert not document.is_encrypted and "/OutputIntents" in document.Root and "/Metadata" in document.Root
        assert document.Root.OutputIntents[0].S == "/GTS_PDFA1" and "/DestOutputProfile" in document.Root.OutputIntents[0]
        assert "/Filter" not in document.Root.Metadata and document.trailer.ID is not None  # 6.6.2.1: XMP in clear; 6.1.3: ID
        with document.open_metadata() as meta:
            assert meta["pdfaid:part"] == "2" and meta["pdfaid:conformance"] in ("B", "U", "A")
        kinds = [obj for obj in document.objects if isinstance(obj, (pikepdf.Dictionary, pikepdf.Stream))]
        fonts = [obj for obj in kinds if obj.get("/Type") == "/FontDescriptor"]
        assert fonts and all(any(key in font for key in ("/FontFile", "/FontFile2", "/FontFile3")) for font in fonts)
        assert all("/ToUnicode" in obj for obj in kinds if obj.get("/Type") == "/Font" and obj.Subtype == "/Type0")
        for obj in kinds:
            assert obj.get("/SMask") in (None, "/None") and obj.get("/BM") in (None, "/Normal")
            assert obj.get("/CA", 1) == 1 and obj.get("/ca", 1) == 1 if obj.get("/Type") == "/ExtGState" else True
            assert not (obj.get("/Type") == "/Group" and obj.get("/S") == "/Transparency")
            assert "/AA" not in obj and "/JavaScript" not in obj and obj.get("/S") not in ("/JavaScript", "/Launch")
            assert "/F" not in obj if isinstance(obj, pikepdf.Stream) else True  # 6.1.7.1: no streams in other files
            assert obj.get("/Filter") != "/LZWDecode"
        for page in document.pages:
            depth, most = 0, 0
            for instruction in pikepdf.parse_content_stream(page, "q Q"):
                depth += 1 if str(instruction.operator) == "q" else -1
                most = max(most, depth)
                assert depth >= 0
            assert depth == 0 and most <= 28  # 6.1.13: nesting of the graphics state
        assert document.Root.MarkInfo.Marked


def test_both_are_archival(both):
    for pdf in both:
        archival(pdf)


def test_the_sheet_is_archival(border):
    archival(sheet_pdf(border, SheetOptions()))


def test_the_structure_holds_every_page_and_nothing_twice(both):
    """ISO 32000-2, 14.7: marked content of a page leads to its element by the tree of parents, and each element to its parent."""
    counts = []
    for pdf in both:
        with pikepdf.open(io.BytesIO(pdf)) as document:
            tree = document.Root.StructTreeRoot
            nums = list(tree.ParentTree.Nums)
            assert [int(key) for key in nums[::2]] == list(range(len(document.pages))) and int(tree.ParentTreeNextKey) == len(document.pages)
            seen, stack = 0, [(tree.K[0], tree)]
            while stack:
                element, parent = stack.pop()
                assert element.P.objgen == parent.objgen and element.Type == "/StructElem"
                seen += 1
                stack += [(kid, element) for kid in element.get("/K", []) if isinstance(kid, pikepdf.Dictionary) and kid.get("/Type") == "/StructElem"]
            names = [bytes(name) for name in list(tree.IDTree.Names)[::2]]
            assert names == sorted(set(names)) and all(bytes(entry.ID) == name for name, entry in zip(names, list(tree.IDTree.Names)[1::2], strict=True))
            marked = 0
            for number, page in enumerate(document.pages):
                assert page.obj.StructParents == number
                numbers = [int(one.operands[1].MCID) for one in pikepdf.parse_content_stream(page, "BDC")
                           if isinstance(one.operands[1], pikepdf.Dictionary) and "/MCID" in one.operands[1]]
                parents = nums[2 * number + 1]
                marked += len(numbers)
                for mark in numbers:
                    kids = parents[mark].K
                    assert any(kid == mark and parents[mark].Pg.objgen == page.obj.objgen if not isinstance(kid, pikepdf.Dictionary)
                               else kid.MCID == mark and kid.get("/Pg", parents[mark].get("/Pg")).objgen == page.obj.objgen
                               for kid in kids if not (isinstance(kid, pikepdf.Dictionary) and kid.get("/Type") == "/StructElem"))
            counts.append((seen, marked))
    assert counts[0] == counts[1] and counts[0][0] > 1000


def test_the_same_cards_in_parts_give_the_same_bytes(border, cards):
    assert cards_pdf(border, cards[:3], CardOptions(), Display(), 2) == cards_pdf(border, cards[:3], CardOptions(), Display(), 2)


def test_a_document_of_another_form_is_refused(border):
    """A file that a library has saved again has its objects packed, and would be read wrongly."""
    sheet = sheet_pdf(border, SheetOptions())
    packed = io.BytesIO()
    with pikepdf.open(io.BytesIO(sheet)) as document:
        document.save(packed, object_stream_mode=pikepdf.ObjectStreamMode.generate)
    with pytest.raises(ValueError, match="another form"):
        joining.joined([packed.getvalue()], lambda pages: typeset("cardfoot.typ", {}))
    with pytest.raises(ValueError, match="nothing"):
        joining.joined([], lambda pages: b"")


def test_texts_that_look_like_references_stay():
    """A title may say "5 0 R" and hold brackets; only references and identifications are renumbered."""
    body = rb"<</S/H1/T(Group \(5 0 R) (6 0 R\))/P 5 0 R/ID(U1x0y0)/A[<</Headers[(U1x0y0)]>>]/K[6 0 R]>>"
    body = body.replace(rb"R) (6", rb"R \(6")
    got = joining._renumbering({5: 50, 6: 60}, {b"U1x0y0"}, b"7-")(body)
    assert got == rb"<</S/H1/T(Group \(5 0 R \(6 0 R\))/P 50 0 R/ID(7-U1x0y0)/A[<</Headers[(7-U1x0y0)]>>]/K[60 0 R]>>"
