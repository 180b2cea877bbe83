"""Drawn pairs of photos: the earlier one shows the powder as it was before the last balls."""

import pytest

torch = pytest.importorskip("torch", reason="torch is only needed to train")
pytest.importorskip("onnx", reason="onnx is only needed to train")

from facemark.learn.dice import Dice, map_grid  # noqa: E402
from facemark.learn.mark_sheets import draw_sheets  # noqa: E402
from facemark.learn.sheet_head import draw_outline, draw_powder  # noqa: E402
from facemark.learn.sheet_prints import place_prints, press  # noqa: E402
from facemark.learn.train_marks import packed, served  # noqa: E402

CPU = torch.device("cpu")


def test_powder_before_is_virgin_without_earlier_balls_and_the_last_without_new_ones():
    dice = Dice(6, torch.Generator().manual_seed(3), CPU)
    x, y = (grid.expand(6, -1, -1) for grid in map_grid(CPU))
    outline = draw_outline(dice)
    prints = place_prints(dice, outline, torch.zeros(6))
    virgin, mean = draw_powder(dice, outline.depth_mm(x, y), x, y, torch.zeros(6))
    first_new = torch.tensor([0.0, 0.0, 1.0, 2.0, 99.0, 99.0])
    touched = press(dice, virgin, mean, prints, first_new)
    assert torch.equal(touched.then_thick[:2], virgin[:2])
    assert torch.equal(touched.then_thick[4:], touched.thick[4:])
    differ = [not torch.equal(touched.then_thick[i], touched.thick[i]) for i in (2, 3)]
    assert differ == [float(prints.there[2, 1:].sum()) > 0, float(prints.there[3, 2:].sum()) > 0]


def test_only_new_balls_are_asked_for_where_there_is_a_photo_before():
    sheets = draw_sheets(8, torch.Generator().manual_seed(5), CPU)
    assert len(sheets.before) == 4
    assert not sheets.old[4:].any()

    class Never:
        random = staticmethod(lambda: 1.0)  # nothing is mirrored

    batch = served(packed(sheets), torch.Generator().manual_seed(1), Never())
    paired = batch["paired"]
    assert not paired[4:].any()
    assert paired[:4].any()
    wanted = sheets.prints.there - sheets.old * paired[:, None]
    assert torch.equal(batch["there"], wanted)
    assert not batch["planes"][~paired, 4:].any()
    assert all(batch["planes"][i, 4].any() for i in range(4) if paired[i])
