"""Shipped weights as a starting point: what an ONNX file holds goes back into the network that it came from.

The file holds every convolution with its batch norm folded in. Training needs the two apart again. Any split
answers the same, so each filter is brought to length one and its norm takes the rest, with the mean and
spread that the convolution's answers have on a batch of training pictures: in training and at rest the
network then answers as the file does.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import onnx
import torch
from onnx import numpy_helper
from torch import Tensor, nn

Folded = tuple[Tensor, Tensor | None]  # weight, bias


def folded_weights(path: Path) -> list[Folded]:
    """Weight and bias of every convolution of an ONNX file, in the order in which they are run."""
    graph = onnx.load(str(path)).graph
    kept = {one.name: torch.from_numpy(numpy_helper.to_array(one).copy()) for one in graph.initializer}
    layers: list[Folded] = []
    for node in graph.node:
        if node.op_type == "Conv":
            names = list(node.input[1:])
            layers.append((kept[names[0]], kept[names[1]] if len(names) > 1 else None))
    return layers


@torch.no_grad()
def start_from(net: nn.Module, layers: list[Folded], pictures: Tensor) -> None:
    """Give ``net`` the weights of ``layers``, its norms set on ``pictures``.

    Parameters
    ----------
    net : nn.Module
        Every convolution is followed at once by its BatchNorm2d, or has a bias and none.
    layers : list of (weight, bias)
        In the order in which ``net`` runs its convolutions. A last layer with fewer filters than the
        network's fills the first ones; the others start at zero. So do further planes of the first layer.
    pictures : (n, c, h, w)
        Training pictures; the norms' means and spreads are taken on them.

    Raises
    ------
    ValueError
        If the layers do not fit the network.
    """
    waiting = list(layers)
    bias_of_last: list[Tensor] = []

    def fill(module: nn.Module, _inputs: tuple[Tensor, ...]) -> None:
        assert isinstance(module, nn.Conv2d)
        if not waiting:
            raise ValueError("the file holds fewer convolutions than the network")
        weight, bias = (None if part is None else part.to(module.weight.device) for part in waiting.pop(0))
        assert weight is not None
        n_given = len(weight)
        if len(waiting) == len(layers) - 1:
            more = module.weight.shape[1] - weight.shape[1]
            weight = torch.nn.functional.pad(weight, (0, 0, 0, 0, 0, max(more, 0)))
        if weight.shape[1:] != module.weight.shape[1:] or n_given > module.out_channels:
            raise ValueError(f"{tuple(weight.shape)} does not fit {tuple(module.weight.shape)}")
        if module.bias is not None:
            module.weight.zero_()[:n_given] = weight
            module.bias.zero_()[:n_given] = 0.0 if bias is None else bias
            return
        length = weight.flatten(1).norm(dim=1).clamp_min(1e-6)
        module.weight.copy_(weight / length.view(-1, 1, 1, 1))
        bias_of_last[:] = [length, torch.zeros_like(length) if bias is None else bias]

    def settle(module: nn.Module, inputs: tuple[Tensor, ...]) -> None:
        assert isinstance(module, nn.BatchNorm2d)
        length, bias = bias_of_last
        var, mean = torch.var_mean(inputs[0].float(), dim=(0, 2, 3), correction=0)
        module.running_mean.copy_(mean)  # type: ignore[union-attr, operator]
        module.running_var.copy_(var)  # type: ignore[union-attr, operator]
        module.weight.copy_(length * (var + module.eps).sqrt())
        module.bias.copy_(length * mean + bias)

    hooks = []
    for module in net.modules():
        before: Callable[..., None] | None = {nn.Conv2d: fill, nn.BatchNorm2d: settle}.get(type(module))
        if before is not None:
            hooks.append(module.register_forward_pre_hook(before))
    net.eval()
    net(pictures)
    for hook in hooks:
        hook.remove()
    if waiting:
        raise ValueError(f"the file holds {len(waiting)} convolutions more than the network")
