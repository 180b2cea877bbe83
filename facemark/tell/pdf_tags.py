"""A tagged PDF: headings, paragraphs, lists and pictures that a screen reader can tell apart (ISO 32000-1,
14.7 and 14.8).

reportlab writes the page; here each piece is wrapped in marked content, and the tree that names the pieces is
hung into the document. One page only.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any


class Tags:
    """Collects the tree of one page while it is drawn. ``close`` before ``canvas.showPage``."""

    def __init__(self, canvas: Any, language: str) -> None:
        self._canvas = canvas
        self._pieces: list[tuple[str, str]] = []  # tag and alternative text, by number of the piece
        canvas.setCatalogEntry("Lang", _text(language))

    @contextmanager
    def piece(self, tag: str, *, alt: str = "") -> Iterator[None]:
        """What is drawn inside is one element: H1, H2, P, LI, Figure ...; ``alt`` stands for a picture."""
        self._canvas._code.append(f"/{tag} <</MCID {len(self._pieces)}>> BDC")
        self._pieces.append((tag, alt))
        yield
        self._canvas._code.append("EMC")

    @contextmanager
    def ornament(self) -> Iterator[None]:
        """Lines and boxes that say nothing."""
        self._canvas._code.append("/Artifact BMC")
        yield
        self._canvas._code.append("EMC")

    def close(self) -> None:
        """Hang the tree into the document."""
        from reportlab.pdfbase import pdfdoc

        document = self._canvas._doc
        page = document.thisPageRef()
        root = pdfdoc.PDFDictionary({"Type": pdfdoc.PDFName("StructTreeRoot")})
        root_ref = document.Reference(root)
        whole = pdfdoc.PDFDictionary({"Type": pdfdoc.PDFName("StructElem"), "S": pdfdoc.PDFName("Document")})
        whole_ref = document.Reference(whole)
        leaves = []
        for number, (tag, alt) in enumerate(self._pieces):
            leaf = {
                "Type": pdfdoc.PDFName("StructElem"),
                "S": pdfdoc.PDFName(tag),
                "P": whole_ref,
                "Pg": page,
                "K": number,
            }
            if alt:
                leaf["Alt"] = _text(alt)
            leaves.append(document.Reference(pdfdoc.PDFDictionary(leaf)))
        whole.dict |= {"P": root_ref, "K": pdfdoc.PDFArray(leaves)}
        parents = pdfdoc.PDFDictionary({"Nums": pdfdoc.PDFArray([0, pdfdoc.PDFArray(leaves)])})
        root.dict |= {"K": whole_ref, "ParentTree": document.Reference(parents), "ParentTreeNextKey": 1}
        self._canvas.setCatalogEntry("StructTreeRoot", root)
        self._canvas.setCatalogEntry("MarkInfo", pdfdoc.PDFDictionary({"Marked": "true"}))


def tie_page(canvas: Any) -> None:
    """The page's number in the tree; after ``canvas.showPage``."""
    page = canvas._doc.Pages.pages[-1]
    page.__NoDefault__ = [*page.__NoDefault__, "StructParents"]
    page.StructParents = 0


def _text(words: str) -> Any:
    from reportlab.pdfbase import pdfdoc

    return pdfdoc.PDFString(words)
