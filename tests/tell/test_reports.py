"""Page, PDF, picture and text say the same; nothing else leaves with them."""

from __future__ import annotations

import base64
import datetime as dt
import io
import re
from dataclasses import fields, is_dataclass
from functools import cache
from html.parser import HTMLParser
from typing import Any

import pypdfium2
import pytest
from PIL import Image

import facemark
from facemark.errors import SetupError
from facemark.explain.hitset import Conditions
from facemark.tell.face_drawing import MARK, draw_face, draw_picture, svg
from facemark.tell.language import ENGLISH, LANGUAGES, Language
from facemark.tell.report_chat import WIDTH_PX, chat_report
from facemark.tell.report_content import report_content, report_text
from facemark.tell.report_html import WIDEST_PX, html_report
from facemark.tell.report_pdf import PAPERS_MM, pdf_report
from facemark.tell.session_report import Session, session_report
from facemark.tell.units import Units, units_of
from tests.tell.report_sets import PHOTO, left_handed, moved, reading

HOMEWORK = ("Ten slow balls, tee 5 mm lower.", "Look before you hit the next.")
VOICES = [
    (units_of(words), LANGUAGES[code])
    for words, code in (("mm", "en"), ("in,yd,mph", "en"), ("yd,km/h", "de"))
]
SECRETS = (b"Exif\0", b"http://ns.adobe.com/xap", b"Photoshop 3.0", b"ICC_PROFILE")


@cache
def photo() -> facemark.Photo:
    return facemark.load(PHOTO)


@cache
def one_photo() -> dict[str, Any]:
    session = Session(records=(reading(),), player="Mia", day=dt.date(2026, 11, 25))
    return session_report(session, homework=HOMEWORK)


@cache
def whole_session() -> dict[str, Any]:
    same = Conditions(effort_frac=0.6, tee_mm=40.0)
    now = Session(
        records=tuple(moved((9, -3), 4, seed) for seed in (1, 2)),
        player="Jonas",
        day=dt.date(2026, 11, 25),
        conditions=same,
        place="bay 7",
    )
    before = Session(
        records=tuple(moved((16, -6), 11, seed) for seed in (3, 4)),
        day=dt.date(2026, 11, 11),
        conditions=same,
    )
    plan = {
        "focus": "strike",
        "n_balls": 10,
        "effort_frac": 0.4,
        "n_minutes": 10,
        "zone_mm": 12.0,
        "gate": None,
    }
    return session_report(now, before=before, plan=plan)


class Page(HTMLParser):
    """What a reader sees and a screen reader says."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.images: list[dict[str, str | None]] = []
        self.tags: list[str] = []
        self._hidden = 0
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = dict(attrs)
        self.tags.append(tag)
        if tag in ("style", "text"):  # letters inside the drawing are its picture
            self._hidden += 1
        if tag == "img" or (tag == "svg" and told.get("role") == "img"):
            self.images.append(told)
            self.words.append(told.get("alt") or told.get("aria-label") or "")

    def handle_endtag(self, tag: str) -> None:
        self._hidden -= tag in ("style", "text")

    def handle_data(self, data: str) -> None:
        if not self._hidden:
            self.words.append(data)


def numbers(text: str, language: Language) -> set[str]:
    text = text.replace("\u00a0", " ").replace(PHOTO.name, "")
    return set(re.findall(rf"\d+(?:\{language.decimal_mark}\d+)?", text))


def said(content: Any) -> str:
    """Every string of a report's content."""
    if isinstance(content, str):
        return content
    if isinstance(content, tuple):
        return " ".join(said(item) for item in content)
    if is_dataclass(content):
        return " ".join(said(getattr(content, item.name)) for item in fields(content))
    return ""


def pdf_words(data: bytes) -> str:
    [page] = pypdfium2.PdfDocument(data)
    # Lines may break at a hyphen or a space; numbers never do, because their unit holds on to them.
    return str(page.get_textpage().get_text_range()).replace("\r\n", " ")


@pytest.mark.parametrize(
    ("units", "language"), VOICES, ids=lambda v: getattr(v, "code", getattr(v, "words", ""))
)
@pytest.mark.parametrize("report", ["one photo", "session"])
def test_all_numbers_are_those_of_the_content(report: str, units: Units, language: Language) -> None:
    told = one_photo() if report == "one photo" else whole_session()
    photos = [(photo(), reading())] if report == "one photo" else []
    content = report_content(told, units, language)
    allowed = numbers(said(content), language)
    page = " ".join(Page(html_report(told, photos, units=units, language=language)).words)
    paper = pdf_words(pdf_report(told, photos[0] if photos else None, units=units, language=language))
    text = report_text(content)
    assert len(allowed) > 10
    assert numbers(page, language) == allowed
    assert numbers(text, language) <= allowed
    main = said((content.headline, content.lines, content.next_block, content.comparison, content.care))
    assert numbers(main, language) <= numbers(text, language)
    # The drawing's ruler has a number of its own, 20 mm or 1 in.
    ruler = set() if photos else {"20", "1"}
    assert numbers(main, language) <= numbers(paper, language) <= allowed | ruler


@pytest.mark.parametrize(
    ("units", "language"), VOICES, ids=lambda v: getattr(v, "code", getattr(v, "words", ""))
)
def test_the_content_says_what_the_dictionary_holds(units: Units, language: Language) -> None:
    """Formatted here by plain arithmetic: 25.4 mm an inch, 0.9144 m a yard, both exact."""
    report = whole_session()
    mm_per = 25.4 if units.face == "in" else 1.0
    m_per = 0.9144 if units.lengths == "yd" else 1.0
    digits = 2 if units.face == "in" else 0

    def face(mm: float) -> str:
        return f"{abs(mm) / mm_per:.{digits}f}".replace(".", language.decimal_mark)

    content = report_content(report, units, language)
    for mark, row in zip(report["marks"], content.marks, strict=True):
        places = {face(mark["toe_mm"]), face(mark["high_mm"])}
        assert numbers(row.place, language) == {p for p in places if float(p.replace(",", "."))}, mark
    where, sure, did = (line for _, line in content.lines)
    assert {face(report["group"]["toe_mm"]), face(report["group"]["high_mm"])} <= numbers(where, language)
    assert {str(report["pattern"]["zone"]["n_in"]), str(len(report["marks"])), face(12.0)} <= numbers(
        sure, language
    )
    start, curve = report["flight"]["start_push_deg"], report["flight"]["curve_draw_m"]
    ends = {
        f"{abs(start[key]):.1f}".replace(".", language.decimal_mark) for key in ("median", "low95", "high95")
    }
    far = {f"{abs(curve[key]) / m_per:.0f}" for key in ("low95", "high95")}
    assert ends | far <= numbers(did, language)
    spreads = [club["spread_mm"] for club in report["comparison"]["clubs"]]
    shown = {f"{s / mm_per:.{digits or 1}f}".replace(".", language.decimal_mark) for s in spreads}
    assert shown <= numbers(said(content.comparison), language)


def test_sides_follow_the_hand() -> None:
    report = whole_session()
    other = {**report, "hand": "left"}
    right, left = (report_content(one, Units(), ENGLISH).lines[2][1] for one in (report, other))
    swapped = left.replace("right", "?").replace("left", "right").replace("?", "left")
    assert right == swapped
    assert "right" in right


@pytest.mark.parametrize(
    ("label", "needed", "says"),
    [
        ("too few", 2, "At least 2 more balls before a pattern can be named."),
        ("not settled", 1, "About 1 more ball would settle it"),
        ("not settled", 200, "It would take more balls than one session"),
        ("not settled", None, "More balls alone would not settle it."),
        ("toe", 0, "These balls are enough to say so."),
    ],
)
def test_what_would_settle_the_word(label: str, needed: int | None, says: str) -> None:
    pattern = {**reading()["pattern"], "label": label, "headline": label, "balls_needed": needed}
    content = report_content({**one_photo(), "pattern": pattern}, Units(), ENGLISH)
    assert content.lines[1][1].replace("\u00a0", " ").startswith(says)


# --- the page ---
def test_the_page_asks_nothing_of_the_world() -> None:
    html = html_report(one_photo(), [(photo(), reading())])
    page = Page(html)
    assert not {"script", "iframe", "link", "object", "embed", "form"} & set(page.tags)
    addresses = set(re.findall(r"(?:https?:)?//[\w.-]+", re.sub(r"base64,[^\"]+", "", html)))
    assert addresses <= {"http://www.w3.org"}  # the name of SVG, not an address that is asked
    assert "default-src 'none'" in html
    assert re.search(r"\son\w+=", re.sub(r"base64,[^\"]+", "", html)) is None


@pytest.mark.parametrize("photos", [True, False])
def test_every_picture_has_its_content_in_words(photos: bool) -> None:
    page = Page(html_report(one_photo(), [(photo(), reading())] if photos else []))
    [image] = page.images
    words = image.get("alt") or image.get("aria-label") or ""
    for mark in reading()["marks"]:
        assert f"{mark['letter']}: {abs(round(mark['toe_mm']))}" in words.replace("\u00a0", " ")
    assert "toe is on the left" in words
    assert "sweet spot" in words


def test_photos_of_a_session_follow_the_drawing_with_their_numbers() -> None:
    first, second = moved((9, -3), 4, 1), reading()
    report = session_report(Session(records=(first, second)))
    page = Page(html_report(report, [(photo(), second)], language=LANGUAGES["de"]))
    assert len(page.images) == 2
    assert "Foto 1" in page.words  # both photos bear one name; the first of it is taken
    both = Page(html_report(report, [(photo(), first), (photo(), second)]))
    assert [word for word in both.words if word.startswith("Photo ") and len(word) == 7] == [
        "Photo 1",
        "Photo 2",
    ]


def test_the_photo_in_the_page_is_small_and_bare() -> None:
    html = html_report(one_photo(), [(photo(), reading())], whole=True)
    [data] = re.findall(r"data:image/jpeg;base64,([^\"]+)", html)
    content = base64.b64decode(data)
    assert max(Image.open(io.BytesIO(content)).size) <= WIDEST_PX
    assert not [secret for secret in SECRETS if secret in content]
    assert not Image.open(io.BytesIO(content)).getexif()


def test_what_people_type_stays_text() -> None:
    bad = "<script>alert(1)</script>"
    session = Session(records=(reading(),), player=bad, place=bad)
    html = html_report(session_report(session, homework=[bad]))
    assert "<script" not in html
    assert html.count("&lt;script&gt;") >= 3


# --- the PDF ---
@pytest.mark.parametrize("paper", PAPERS_MM)
def test_one_page_of_the_right_size(paper: str) -> None:
    many = [
        f"{i}. Something to practise that takes more than one line on the page, I am sure." for i in range(30)
    ]
    for report in (one_photo(), session_report(Session(records=(reading(),)), homework=many)):
        [page] = pypdfium2.PdfDocument(pdf_report(report, (photo(), reading()), paper=paper))
        width, height = (side * 72 / 25.4 for side in PAPERS_MM[paper])
        assert page.get_size() == pytest.approx((width, height), abs=0.01)
        words = page.get_textpage()
        boxes = [words.get_charbox(i) for i in range(words.count_chars())]
        assert min(box[1] for box in boxes) > 20.0  # nothing runs off the page
        assert max(box[2] for box in boxes) < width - 20.0


def test_another_paper() -> None:
    with pytest.raises(SetupError):
        pdf_report(one_photo(), paper="a7")


def test_the_pdf_is_tagged() -> None:
    # pdfium's own reading of the structure tree (ISO 32000-1, 14.7).
    raw = pypdfium2.raw
    document = pypdfium2.PdfDocument(pdf_report(one_photo(), (photo(), reading()), language=LANGUAGES["de"]))
    assert raw.FPDFCatalog_IsTagged(document)
    tree = raw.FPDF_StructTree_GetForPage(document[0])
    [whole] = [
        raw.FPDF_StructTree_GetChildAtIndex(tree, i) for i in range(raw.FPDF_StructTree_CountChildren(tree))
    ]
    kinds, alts = [], []
    for i in range(raw.FPDF_StructElement_CountChildren(whole)):
        child = raw.FPDF_StructElement_GetChildAtIndex(whole, i)
        kinds.append(told(raw.FPDF_StructElement_GetType, child))
        alts.append(told(raw.FPDF_StructElement_GetAltText, child))
    assert kinds[0] == "H1"
    assert kinds.count("Figure") == 1
    assert kinds.count("LI") == len(HOMEWORK)
    assert "Foto der Schlagfläche" in alts[kinds.index("Figure")]


def told(getter: Any, element: Any) -> str:
    import ctypes

    buffer = ctypes.create_string_buffer(8192)
    length = getter(element, buffer, len(buffer))
    return buffer.raw[: max(length - 2, 0)].decode("utf-16-le")


def test_names_from_anywhere() -> None:
    for name in ("Jürgen Größe", "Łucja Żółć", "Ядвига", "O'Neill & Søn", "名前", "🏌", "x" * 300):
        report = session_report(Session(records=(reading(),), player=name))
        data = pdf_report(report)
        assert len(pypdfium2.PdfDocument(data)) == 1
        if name[0] in "JŁЯO":
            assert name in pdf_words(data)
        assert chat_report(report)


def test_the_same_report_gives_the_same_bytes() -> None:
    assert pdf_report(whole_session()) == pdf_report(whole_session())
    assert chat_report(whole_session()) == chat_report(whole_session())


# --- pictures ---
def test_the_chat_picture() -> None:
    content = chat_report(one_photo(), (photo(), reading()))
    picture = Image.open(io.BytesIO(content))
    assert picture.format == "PNG"
    assert picture.width == WIDTH_PX
    assert picture.height < 4 * WIDTH_PX
    assert png_chunks(content) == {"IHDR", "IDAT", "IEND"}  # no text, time, place or profile


def png_chunks(content: bytes) -> set[str]:
    """Kinds of chunks in a PNG file (ISO/IEC 15948, 5.3): length, kind, data, check sum."""
    found, at = set(), 8
    while at < len(content):
        length = int.from_bytes(content[at : at + 4], "big")
        found.add(content[at + 4 : at + 8].decode("ascii"))
        at += 12 + length
    return found


def orange_side(record: dict[str, Any]) -> float:
    """Middle of the orange in the drawing, from 0 (left) to 1 (right)."""
    import numpy as np

    pixels = np.array(draw_picture(draw_face(record, Units(), ENGLISH), 800)).astype(int)
    orange = tuple(int(MARK[i : i + 2], 16) for i in (1, 3, 5))
    hits = np.argwhere(np.abs(pixels - orange).max(axis=2) < 25)
    assert len(hits) > 50
    return float(hits[:, 1].mean() / pixels.shape[1])


def test_the_drawing_shows_the_toe_where_a_camera_sees_it() -> None:
    # Face-on, sole down: a right-handed head has its toe on the viewer's left (fixtures/README.md's scenes).
    toe = moved((30, 0), 2, 5)
    assert orange_side(toe) < 0.4
    assert orange_side(left_handed(toe)) > 0.6


def test_the_drawing_holds_every_mark_and_its_words() -> None:
    drawing = draw_face(reading(), Units(), ENGLISH)
    picture = svg(drawing, 'three "marks" <here>')
    assert all(f">{letter}</text>" in picture for letter in "ABC")
    assert "&quot;marks&quot; &lt;here&gt;" in picture
    assert ">20 mm</text>" in picture
    assert ">1 Zoll</text>" in svg(draw_face(reading(), units_of("in"), LANGUAGES["de"]), "")
