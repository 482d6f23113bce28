"""What a renderer leaves undone for a document that is kept: small repairs right before the file is written.

Rules are those of ISO 14289-1 (PDF/UA-1) and ISO 19005-2 (PDF/A-2) as recalled from memory and as a
validator reported them; the tests hold each of them.
"""

from typing import Any

# PDF/A knows the words of PDF/UA only when the file explains them, in this form.
_UA = b"""
<rdf:Description rdf:about="" xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/">
<pdfuaid:part>1</pdfuaid:part>
</rdf:Description>
<rdf:Description rdf:about="" xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/"
 xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#" xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#">
<pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">
<pdfaSchema:schema>PDF/UA Universal Accessibility Schema</pdfaSchema:schema>
<pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/</pdfaSchema:namespaceURI>
<pdfaSchema:prefix>pdfuaid</pdfaSchema:prefix>
<pdfaSchema:property><rdf:Seq><rdf:li rdf:parseType="Resource">
<pdfaProperty:name>part</pdfaProperty:name>
<pdfaProperty:valueType>Integer</pdfaProperty:valueType>
<pdfaProperty:category>internal</pdfaProperty:category>
<pdfaProperty:description>Indicates, which part of ISO 14289 standard is followed</pdfaProperty:description>
</rdf:li></rdf:Seq></pdfaSchema:property>
</rdf:li></rdf:Bag></pdfaExtension:schemas>
</rdf:Description>
"""
_END = b"</rdf:RDF>"


def finish(pdf: Any, *, complete: bool) -> None:
    """Make a tagged PDF/A-2a one of PDF/UA-1 as well.

    A file that is not `complete`, because some letter had no font, keeps neither promise and so makes none.
    """
    _tell_standards(pdf, complete=complete)
    for found in list(pdf.objects):
        if not isinstance(found, dict):
            extra = getattr(found, "extra", {})
            if extra.get("Subtype") == "/Image":
                extra["Interpolate"] = "false"
        elif found.get("S") == "/LI":
            _mend_list_item(pdf, found)
        elif found.get("S") == "/TH":
            _tell_scope(pdf, found)


def _tell_standards(pdf: Any, *, complete: bool) -> None:
    metadata = _object(pdf, pdf.catalog["Metadata"])
    metadata.compress = False  # a program that looks for the words must not have to unpack them
    content = b"\n".join(metadata.stream)
    if complete:
        content = content.replace(_END, _UA + _END, 1)
    else:
        content = content.replace(b'pdfaid:part="2" pdfaid:conformance="A"', b"", 1)
    metadata.stream = [content]


def _object(pdf: Any, reference: bytes | str) -> Any:
    return pdf.objects[int(reference.split()[0])]


def _mend_list_item(pdf: Any, item: Any) -> None:
    """An item holds a label and a body and nothing else: what stands beside them goes into the body."""
    kids = [(kid, _object(pdf, kid)) for kid in item["K"]]
    loose = [kid for kid, element in kids if element["S"] not in ("/Lbl", "/LBody", "/L")]
    if not loose:
        return
    bodies = [element for _kid, element in kids if element["S"] == "/LBody"]
    body = bodies[0] if bodies else type(item)({**item, "S": "/LBody", "K": type(item["K"])([])})
    if not bodies:
        body["P"] = item.reference
        pdf.add_object(body)
    before = [kid for kid in loose if not bodies or _stands_before(item["K"], kid, body.reference)]
    body["K"][:0] = before
    body["K"].extend(kid for kid in loose if kid not in before)
    for kid in loose:
        _object(pdf, kid)["P"] = body.reference
    kept = [kid for kid in item["K"] if kid not in loose]
    item["K"][:] = kept if bodies else [*kept, body.reference]


def _stands_before(kids: Any, kid: Any, other: Any) -> bool:
    return bool(list(kids).index(kid) < list(kids).index(other))


def _tell_scope(pdf: Any, header: Any) -> None:
    """A header cell says whether it heads a column or a row."""
    row = _object(pdf, header["P"])
    part = _object(pdf, row["P"])
    if "A" in header:
        header["A"]["Scope"] = "/Column" if part["S"] == "/THead" else "/Row"
