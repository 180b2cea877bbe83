"""The printed sheet: true to size, the same bytes every time, and read back by the finder."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pypdfium2
import pytest

from facemark import sheet
from facemark.errors import SetupError
from facemark.inputs import Reference, ReferenceKind
from facemark.see.scale import find_scale
from facemark.see.tags import find_tags
from facemark.tell.card import PAPERS_MM, window_middle_mm, write_card
from tests.see import scale_scenes as scenes

DPI = 300.0


def _printed(folder: Path, paper: str, *, dpi: float = DPI) -> np.ndarray:
    """(H, W) grey page, by a PDF reader that is not the writer."""
    path = folder / "sheet.pdf"
    write_card(path, paper)
    document = pypdfium2.PdfDocument(path)
    assert len(document) == 1
    width, height = document[0].get_size()
    assert (width * 25.4 / 72, height * 25.4 / 72) == pytest.approx(PAPERS_MM[paper], abs=0.01)
    page = document[0].render(scale=dpi / 72, grayscale=True).to_pil().convert("L")
    document.close()
    return np.asarray(page)


def _page_mm(px: np.ndarray, page: np.ndarray, dpi: float) -> np.ndarray:
    """Millimetres from the lower left corner of the paper; pixel centres are whole numbers."""
    mm = (np.asarray(px) + 0.5) * 25.4 / dpi
    return np.column_stack([mm[:, 0], page.shape[0] * 25.4 / dpi - mm[:, 1]])


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_every_tag_is_printed_where_the_layout_says(tmp_path: Path, paper: str) -> None:
    # The PDF reader snaps edges to whole pixels: 0.04 mm at 600 dpi.
    page = _printed(tmp_path, paper, dpi=600.0)
    found = find_tags(page)
    assert [tag.ident for tag in found.sheet] == sorted(sheet.TAG_CENTRES_MM)
    assert not found.plain
    middle = np.array(window_middle_mm(paper))
    for tag in found.sheet:
        np.testing.assert_allclose(
            _page_mm(tag.corners_px, page, 600.0), middle + sheet.tag_corners_mm(tag.ident), atol=0.1
        )


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_check_lines_are_100_mm_both_ways(tmp_path: Path, paper: str) -> None:
    """The longest dark run of a row and of a column below the frame."""
    page = _printed(tmp_path, paper)
    foot = PAPERS_MM[paper][1] - window_middle_mm(paper)[1] + sheet.WINDOW_HEIGHT_MM / 2 + sheet.SOLE_BAR_MM
    below = page[round((foot + 3) * DPI / 25.4) :] < 160
    for lines in (below, below.T):
        longest = max(_longest_run(line) for line in lines)
        assert longest * 25.4 / DPI == pytest.approx(sheet.CHECK_RULER_MM, abs=0.3)


def _longest_run(line: np.ndarray) -> int:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], line.astype(int), [0]])))
    return int(np.max(edges[1::2] - edges[::2], initial=0))


def test_nothing_but_margin_round_a_tag_and_all_of_it_on_the_paper() -> None:
    cell = sheet.TAG_MM / sheet.N_CELLS
    bars = sheet.bars_mm()
    for tag in sheet.TAG_CENTRES_MM:
        bar = bars[sheet.bar_of(tag)]
        corners = sheet.tag_corners_mm(tag)
        assert corners[:, 0].min() - bar[:, 0].min() >= cell
        assert bar[:, 0].max() - corners[:, 0].max() >= cell
        assert corners[:, 1].min() - bar[:, 1].min() >= cell
        assert bar[:, 1].max() - corners[:, 1].max() >= cell
    for width, _ in PAPERS_MM.values():
        # Common printers leave up to 5 mm blank at the edge.
        assert (width - sheet.WINDOW_WIDTH_MM - 2 * sheet.BAR_MM) / 2 >= 5.0
    # Equipment Rules, part 2: heel to toe under 127 mm, at most 71.12 mm high.
    assert sheet.WINDOW_WIDTH_MM > 127.0
    assert sheet.WINDOW_HEIGHT_MM > 71.12


def test_the_same_sheet_is_the_same_bytes_and_asks_not_to_be_scaled(tmp_path: Path) -> None:
    for name in ("one.pdf", "two.pdf"):
        write_card(tmp_path / name, "a4")
    one = (tmp_path / "one.pdf").read_bytes()
    assert one == (tmp_path / "two.pdf").read_bytes()
    assert b"/PrintScaling /None" in one


def test_an_unknown_paper_is_an_error_and_writes_nothing(tmp_path: Path) -> None:
    with pytest.raises(SetupError, match="a4 or letter"):
        write_card(tmp_path / "sheet.pdf", "a5")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("tilt", "cut_side"), [(0.0, False), (22.0, True)])
def test_a_photo_of_the_printed_sheet_gives_the_scale(tmp_path: Path, tilt: float, cut_side: bool) -> None:
    page = _printed(tmp_path, "a4")
    light = np.repeat((0.02 + 0.78 * page.astype(np.float32) / 255.0)[:, :, None], 3, axis=2)
    px_per_mm = DPI / 25.4
    middle_x, middle_y = window_middle_mm("a4")
    left_top = (-middle_x, PAPERS_MM["a4"][1] - middle_y)
    # The frame as cut out: only its bars are there; the right one is cut off for the shaft.
    alpha = np.zeros(page.shape, np.float32)
    for bar in sheet.bars_mm()[: 2 if cut_side else 3]:
        corner = (bar - left_top) * [px_per_mm, -px_per_mm]
        cv2.fillPoly(alpha, [np.round(corner).astype(np.int32)], 1.0)
    camera, pose = scenes.camera_of(1600, 1200, 27.0), scenes.pose_of(330.0, tilt, 30.0, 3.0)
    ground = scenes.grassy(1200, 1600, 9)
    pixels = scenes.photograph(light, left_top, pose, camera, ground=ground, alpha=alpha, px_per_mm=px_per_mm)
    near, true = scenes.true_scale(camera, pose, (0.0, 0.0))
    photo = scenes.photo_of(pixels, 27.0)
    scale = find_scale(photo, Reference(), near_px=near)
    assert scale.kind is ReferenceKind.SHEET
    assert scale.mm_per_px(near) == pytest.approx(true, rel=0.002)
    assert len(scale.footprint_px) == (2 if cut_side else 3)
    assert "sheet_unchecked" in {c.key for c in scale.caveats}
    assert scale.scale_err_frac > 0.01
    # The face's place is not covered by what is called paper.
    for polygon in scale.footprint_px:
        outside = cv2.pointPolygonTest(polygon.astype(np.float32), (float(near[0]), float(near[1])), False)
        assert outside < 0
    # A printer that shrank the sheet: 100 mm came out as 98.
    checked = find_scale(photo, Reference(kind=ReferenceKind.SHEET, size_mm=98.0), near_px=near)
    assert checked.mm_per_px(near) / scale.mm_per_px(near) == pytest.approx(0.98, rel=0.001)
    assert checked.scale_err_frac < scale.scale_err_frac
    assert "sheet_unchecked" not in {c.key for c in checked.caveats}
