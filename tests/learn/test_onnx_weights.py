"""Training can go on from shipped weights only if the network then answers as the file does."""

import cv2
import numpy as np
import pytest

torch = pytest.importorskip("torch", reason="torch is only needed to train")
pytest.importorskip("onnx", reason="onnx is only needed to train")

from facemark.learn.face_model import Deployed, FaceNet  # noqa: E402
from facemark.learn.mark_net import IN_PLANES, MarkNet  # noqa: E402
from facemark.learn.onnx_weights import folded_weights, start_from  # noqa: E402
from facemark.learn.train_face import rejoined  # noqa: E402
from facemark.see import splitter_net  # noqa: E402

WEIGHTS = splitter_net._FOLDER


def test_the_splitter_answers_as_its_file_in_training_and_at_rest():
    # OpenCV's own run of the file is the reference.
    generator = torch.Generator().manual_seed(1)
    planes = torch.rand(2, len(IN_PLANES), 96, 128, generator=generator)
    net = MarkNet()
    start_from(net, folded_weights(WEIGHTS / "marks.onnx"), planes)
    opencv = cv2.dnn.readNetFromONNX(str(WEIGHTS / "marks.onnx"))
    opencv.setInput(planes.numpy())
    wanted = opencv.forward()
    with torch.no_grad():
        assert np.abs(net.eval()(planes).numpy() - wanted).max() < 1e-3
        assert np.abs(net.train()(planes).numpy() - wanted).max() < 1e-3


def test_the_face_finder_answers_as_its_file():
    generator = torch.Generator().manual_seed(1)
    pictures = torch.rand(2, 3, 96, 128, generator=generator)
    net = FaceNet()
    layers = rejoined(folded_weights(WEIGHTS / "face.onnx"))
    start_from(net, layers, pictures)
    opencv = cv2.dnn.readNetFromONNX(str(WEIGHTS / "face.onnx"))
    opencv.setInput(pictures[:1].numpy())
    wanted = opencv.forward()[0]
    with torch.no_grad():
        found = Deployed(net)(pictures[:1]).numpy()[0]
    assert np.abs(found - wanted).max() < 1e-3


def test_planes_that_a_file_does_not_know_start_without_a_say():
    generator = torch.Generator().manual_seed(1)
    planes = torch.rand(2, len(IN_PLANES), 96, 128, generator=generator)
    (first, bias), *others = folded_weights(WEIGHTS / "marks.onnx")
    net = MarkNet()
    start_from(net, [(first[:, :4], bias), *others], planes)
    with torch.no_grad():
        seen = net.eval()(planes)
        planes[:, 4:] = 0.0
        assert torch.equal(net(planes), seen)


def test_layers_that_do_not_fit_are_refused():
    layers = folded_weights(WEIGHTS / "marks.onnx")
    planes = torch.rand(2, len(IN_PLANES), 64, 64)
    with pytest.raises(ValueError, match="fewer"):
        start_from(MarkNet(), layers[:-1], planes)
    with pytest.raises(ValueError, match="does not fit"):
        start_from(MarkNet(), layers[1:], planes)


@pytest.mark.parametrize("name", ["contrast", "outline", "count", "before"])
def test_a_plane_left_out_is_zero(name):
    from facemark.learn.train_marks import WITHOUT_PLANES, blanked

    n = len(IN_PLANES)
    planes = blanked(torch.ones(1, n, 8, 8), frozenset([name]))
    assert planes.sum(dim=(0, 2, 3)).tolist() == [
        0.0 if k in WITHOUT_PLANES[name] else 64.0 for k in range(n)
    ]


def test_every_part_left_out_of_the_drawing_changes_it():
    from facemark.learn.dice import PARTS
    from facemark.learn.mark_sheets import draw_sheets

    def drawn(*names):
        generator = torch.Generator().manual_seed(7)
        sheets = draw_sheets(6, generator, torch.device("cpu"), without=frozenset(names))
        return torch.stack([sheets.grey, sheets.inside])

    whole = drawn()
    assert [part for part in PARTS if bool((drawn(part) == whole).all())] == []
