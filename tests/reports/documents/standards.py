"""Finds what keeps a PDF from being accessible and fit to be kept: a list of faults in words.

Rules of ISO 14289-1 (PDF/UA-1), ISO 19005-2 level A (PDF/A-2a) and ISO 32000-1 as recalled from memory. It
looks at what a document of this desk can get wrong, not at all that the standards say.
"""

import itertools
import re
from collections.abc import Iterator
from xml.etree import ElementTree as ET

import pikepdf

from tests.reports.documents.tagged import opened

_INLINE = {"Span", "Link", "NonStruct", "Figure"}
# What may stand right inside an element that takes only some kinds.
_KIDS = {
    "L": {"LI", "Caption", "L"},
    "LI": {"Lbl", "LBody", "L"},
    "Table": {"TR", "THead", "TBody", "TFoot", "Caption"},
    "THead": {"TR"},
    "TBody": {"TR"},
    "TFoot": {"TR"},
    "TR": {"TH", "TD"},
}
_NS = {
    "pdfaid": "http://www.aiim.org/pdfa/ns/id/",
    "pdfuaid": "http://www.aiim.org/pdfua/ns/id/",
    "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
    "dc": "http://purl.org/dc/elements/1.1/",
    "pdfaProperty": "http://www.aiim.org/pdfa/ns/property#",
}
_FORBIDDEN = {
    "/JavaScript",
    "/JS",
    "/Launch",
    "/Sound",
    "/Movie",
    "/ResetForm",
    "/ImportData",
    "/EmbeddedFiles",
}


def faults(content: bytes) -> list[str]:
    with opened(content) as pdf:
        return [
            *_of_catalog(pdf),
            *_of_metadata(pdf),
            *_of_structure(pdf),
            *_of_fonts(pdf),
            *_of_drawing(pdf),
            *_of_objects(pdf),
        ]


def _of_catalog(pdf: pikepdf.Pdf) -> Iterator[str]:
    root = pdf.Root
    if not str(root.get("/Lang", "")):
        yield "no language"
    if not root.get("/MarkInfo", {}).get("/Marked", False):
        yield "not marked as tagged"
    if not root.get("/ViewerPreferences", {}).get("/DisplayDocTitle", False):
        yield "the title is not shown"
    if "/StructTreeRoot" not in root or "/ParentTree" not in root.StructTreeRoot:
        yield "no structure tree"
    if pdf.is_encrypted:
        yield "encrypted"
    if "/ID" not in pdf.trailer:
        yield "no file identifier"
    intents = list(root.get("/OutputIntents", []))
    if [str(intent.S) for intent in intents] != ["/GTS_PDFA1"]:
        yield "no output intent"
    elif int(intents[0].DestOutputProfile.get("/N", 0)) != 3:
        yield "the output intent has no RGB profile"
    for action in ("/OpenAction", "/AA"):
        if action in root and isinstance(root[action], pikepdf.Dictionary):
            yield f"the catalog has {action}"


def _of_metadata(pdf: pikepdf.Pdf) -> Iterator[str]:
    stream = pdf.Root.Metadata
    if "/Filter" in stream:
        yield "the metadata is packed"
    tree = ET.fromstring(stream.read_bytes())
    described = tree.findall(".//rdf:Description", _NS)

    def told(prefix: str, name: str) -> list[str]:
        key = f"{{{_NS[prefix]}}}{name}"
        return [d.attrib[key] for d in described if key in d.attrib] + [e.text or "" for e in tree.iter(key)]

    for prefix, name, wanted in (
        ("pdfaid", "part", "2"), ("pdfaid", "conformance", "A"), ("pdfuaid", "part", "1"),
    ):  # fmt: skip
        if told(prefix, name) != [wanted]:
            yield f"{prefix}:{name} is {told(prefix, name)}"
    if "pdfuaid" not in ET.tostring(tree, encoding="unicode") or not list(
        tree.iter(f"{{{_NS['pdfaProperty']}}}name")
    ):
        yield "the words of PDF/UA are not explained"
    titles = [li.text for li in tree.findall(".//dc:title//rdf:li", _NS)]
    if titles != [str(pdf.docinfo.get("/Title", ""))] or not titles[0]:
        yield f"titles differ: {titles}"
    for key in ("/CreationDate", "/ModDate"):
        if key in pdf.docinfo:
            yield f"{key} makes two renderings differ"


def _elements(pdf: pikepdf.Pdf) -> Iterator[tuple[str, pikepdf.Object, str]]:
    """Kind, element and the kind of its parent, in reading order."""

    def walk(element: pikepdf.Object, parent: str) -> Iterator[tuple[str, pikepdf.Object, str]]:
        kids = element.get("/K")
        for kid in kids if isinstance(kids, pikepdf.Array) else [kids]:
            if isinstance(kid, pikepdf.Dictionary) and "/S" in kid:
                kind = str(kid.S).removeprefix("/")
                yield kind, kid, parent
                yield from walk(kid, kind)

    yield from walk(pdf.Root.StructTreeRoot, "")


def _of_structure(pdf: pikepdf.Pdf) -> Iterator[str]:
    found = list(_elements(pdf))
    levels = [int(kind[1]) for kind, _element, _parent in found if re.fullmatch("H[1-6]", kind)]
    if levels[:1] != [1] or levels.count(1) != 1:
        yield f"headings begin {levels[:3]}"
    for before, after in itertools.pairwise(levels):
        if after > before + 1:
            yield f"a heading jumps from {before} to {after}"
    ids = {str(element.ID) for kind, element, _parent in found if kind == "TH" and "/ID" in element}
    for kind, element, parent in found:
        if kind == "Figure" and not str(element.get("/Alt", "")).strip():
            yield "a figure without words"
        if kind == "TH" and str(element.A.get("/Scope", "")) not in ("/Column", "/Row"):
            yield "a header cell without scope"
        if kind == "TD" and not {str(name) for name in element.A.get("/Headers", [])} & ids:
            yield "a cell without its headers"
        if parent in _KIDS and kind not in _KIDS[parent]:
            yield f"{kind} in {parent}"
        if re.fullmatch("H[1-6]", parent) and kind not in _INLINE:
            yield f"{kind} in {parent}"
        if kind == "LI" and parent != "L":
            yield f"LI in {parent}"


def _of_fonts(pdf: pikepdf.Pdf) -> Iterator[str]:
    for found in pdf.objects:
        if isinstance(found, pikepdf.Dictionary) and found.get("/Type") == "/Font":
            if found.get("/Subtype") == "/Type3":
                yield "a font drawn by procedures"
            if found.get("/Subtype") == "/Type0" and "/ToUnicode" not in found:
                yield "a font whose letters cannot be told"
            if str(found.get("/Subtype")).startswith("/CIDFontType"):
                files = {"/FontFile2", "/FontFile3"} & set(found.FontDescriptor.keys())
                if not files:
                    yield f"{found.get('/BaseFont')} is not embedded"


def _of_drawing(pdf: pikepdf.Pdf) -> Iterator[str]:
    """Every letter and line belongs to an element or is set aside; nothing is painted outside of both."""
    show = {"Tj", "TJ", "'", '"', "Do", "f", "F", "f*", "B", "B*", "b", "b*", "S", "s", "sh"}
    for number, page in enumerate(pdf.pages, 1):
        depth = 0
        for operands, operator in pikepdf.parse_content_stream(page):
            name = str(operator)
            if name in ("BDC", "BMC"):
                depth += 1
            elif name == "EMC":
                depth -= 1
            elif name in show and depth == 0:
                yield f"page {number}: {name} {operands[:1]} is neither content nor set aside"
                break
        if "/Tabs" not in page:
            yield f"page {number} has no order for the keyboard"


def _of_objects(pdf: pikepdf.Pdf) -> Iterator[str]:
    for found in pdf.objects:
        if not isinstance(found, pikepdf.Dictionary | pikepdf.Stream):
            continue
        for key in _FORBIDDEN & set(found.keys()):
            yield f"{key} in the file"
        if found.get("/S") in ("/JavaScript", "/Launch", "/URI", "/GoToR", "/SubmitForm"):
            yield f"an action {found.get('/S')}"
        if found.get("/Subtype") == "/Image":
            if found.get("/Interpolate", False):
                yield "a picture asks to be smoothed"
            if "/SMask" in found and found.get("/SMaskInData"):
                yield "a picture with two masks"
        if found.get("/Type") == "/ExtGState" and found.get("/BM", "/Normal") not in (
            "/Normal",
            "/Compatible",
        ):
            yield f"blending {found.get('/BM')}"
        if found.get("/Filter") == "/LZWDecode":
            yield "LZW packing"
