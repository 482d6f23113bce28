"""Reads the tags and the text of a PDF, for the tests."""

import io
from collections.abc import Iterator

import pikepdf
import pypdfium2


def opened(pdf: bytes) -> pikepdf.Pdf:
    return pikepdf.open(io.BytesIO(pdf))


def tags(pdf: pikepdf.Pdf) -> Iterator[tuple[str, pikepdf.Object]]:
    """Every tag with its element, in reading order."""

    def walk(element: pikepdf.Object) -> Iterator[tuple[str, pikepdf.Object]]:
        if isinstance(element, pikepdf.Array):
            for child in element:
                yield from walk(child)
        elif isinstance(element, pikepdf.Dictionary):
            if "/S" in element:
                yield str(element.S).removeprefix("/"), element
            if "/K" in element:
                yield from walk(element.K)

    yield from walk(pdf.Root.StructTreeRoot)


def text(pdf: bytes) -> str:
    return "\n".join(page_texts(pdf))


def page_texts(pdf: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(pdf)
    try:
        found = []
        for page in document:
            part = page.get_textpage()
            found.append(part.get_text_range().replace("\r\n", "\n"))
            part.close()
            page.close()
        return found
    finally:
        document.close()
