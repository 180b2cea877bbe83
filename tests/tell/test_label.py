"""The card's label: written by one program (segno), read by another (OpenCV), and no trouble to the tags."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pypdfium2
import pytest

from facemark import sheet
from facemark.errors import SetupError
from facemark.see.tags import find_tags
from facemark.tell.card import PAPERS_MM, window_middle_mm, write_card
from facemark.tell.label import CardLabel, find_label, label_from_text, label_modules, read_label
from tests.see import scale_scenes as scenes

DPI = 400.0
NAMES = ["mia / driver", "mia", "Zoë Ångström-Fuß / 7 iron no 2", "美亜 / driver"]


def printed(folder: Path, label: CardLabel, paper: str = "a4") -> np.ndarray:
    """(H, W) grey page."""
    write_card(folder / "card.pdf", paper, label=label)
    document = pypdfium2.PdfDocument(folder / "card.pdf")
    assert len(document) == 1
    page = np.asarray(document[0].render(scale=DPI / 72, grayscale=True).to_pil().convert("L"))
    document.close()
    return page


def photo_of(page: np.ndarray, *, size: tuple[int, int], tilt_deg: float, paper: str = "a4") -> np.ndarray:
    """The whole frame, seen from 40 cm: 85 % of the photo's width at no tilt."""
    light = np.repeat((0.02 + 0.78 * page.astype(np.float32) / 255.0)[:, :, None], 3, axis=2)
    x, y = window_middle_mm(paper)
    camera, pose = scenes.camera_of(*size, 27.0), scenes.pose_of(330.0, tilt_deg, 30.0, 3.0)
    return scenes.photograph(
        light, (-x, PAPERS_MM[paper][1] - y), pose, camera, ground=0.05, px_per_mm=DPI / 25.4
    )


@pytest.mark.parametrize("words", NAMES)
def test_what_is_printed_is_read_back_and_every_tag_with_it(tmp_path: Path, words: str) -> None:
    label = label_from_text(words)
    page = printed(tmp_path, label)
    assert find_label(page) == label
    found = find_tags(page)
    assert [tag.ident for tag in found.sheet] == sorted(sheet.TAG_CENTRES_MM)
    assert not found.plain


@pytest.mark.parametrize("tilt_deg", [0.0, 25.0])
def test_a_12_megapixel_photo_of_the_card_says_whose_it_is(tmp_path: Path, tilt_deg: float) -> None:
    label = label_from_text(NAMES[0])
    photo = photo_of(printed(tmp_path, label), size=(4000, 3000), tilt_deg=tilt_deg)
    assert find_label(photo) == label


def test_the_code_keeps_a_cell_of_white_to_the_tags_and_stays_on_the_paper(tmp_path: Path) -> None:
    plain_page, labelled = tmp_path / "plain", tmp_path / "labelled"
    plain_page.mkdir()
    labelled.mkdir()
    write_card(plain_page / "card.pdf", "letter")
    document = pypdfium2.PdfDocument(plain_page / "card.pdf")
    plain = np.asarray(document[0].render(scale=DPI / 72, grayscale=True).to_pil().convert("L"))
    document.close()
    page = printed(labelled, label_from_text(NAMES[2]), "letter")
    changed = np.argwhere(np.abs(page.astype(int) - plain.astype(int)) > 60)
    # Rows from the top of the page; the sole bar's tags end 17.5 mm above the cut edge.
    foot = PAPERS_MM["letter"][1] - window_middle_mm("letter")[1] + sheet.WINDOW_HEIGHT_MM / 2
    foot += sheet.SOLE_BAR_MM
    above_foot_mm = foot - (changed[:, 0] + 0.5) * 25.4 / DPI
    cell = sheet.TAG_MM / sheet.N_CELLS
    # The PDF reader snaps edges to whole pixels, 0.06 mm here.
    assert above_foot_mm.max() <= 17.5 - cell + 0.15
    assert above_foot_mm.min() >= 1.5


def test_strange_codes_are_passed_over() -> None:
    assert read_label("https://example.org/a/b") is None
    assert read_label("fm:") is None
    assert read_label("fm:a/b/c") is None
    assert read_label("fm:mia/") == CardLabel(player="mia")
    # A player cannot hide a folder in a name: the stroke comes back as a letter of the name.
    assert read_label("fm:..%2F..%2Fmia/driver") == CardLabel(player="../../mia", club="driver")


def test_two_cards_that_differ_say_nothing() -> None:
    def tile(words: str) -> np.ndarray:
        modules = np.array(label_modules(label_from_text(words)))
        code = np.kron(np.where(modules, 0, 255).astype(np.uint8), np.ones((8, 8), np.uint8))
        return cv2.copyMakeBorder(code, 60, 60, 60, 60, cv2.BORDER_CONSTANT, value=255)

    assert find_label(tile("mia / driver")) == CardLabel(player="mia", club="driver")
    assert find_label(np.hstack([tile("mia / driver"), tile("ben / driver")])) is None
    assert find_label(np.hstack([tile("mia / driver"), tile("mia / driver")])) is not None
    assert find_label(np.full((400, 400), 255, np.uint8)) is None


@pytest.mark.parametrize("words", ["", " / driver", "mia / ", "mia/driver/old", "/"])
def test_labels_that_are_none(words: str) -> None:
    with pytest.raises(SetupError, match="PLAYER / CLUB"):
        label_from_text(words)


def test_a_label_too_long_for_a_photo_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SetupError, match="characters"):
        write_card(tmp_path / "card.pdf", "a4", label=CardLabel(player="x" * 100))
    assert list(tmp_path.iterdir()) == []
