"""What a set of discs predicts, and how well that fits the removal map: the arithmetic under discs.py.

Works in mm of a local frame (x right, y down) on a crop of the powder map. A set of discs is an (n, 4) array
of x, y, radius [mm] and depth [share].
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from facemark.see.camera import Array
from facemark.see.powder import Image, PowderMap
from facemark.see.voting import Circle

EDGE_SOFT_MM = 0.45  # half width of a rim after blur and closing
RAGGED_MM = 1.1  # a rim may stray this far from its circle without speaking for another disc
RADIUS_MM, RADIUS_SPREAD_MM = 10.5, 1.6  # before the photo itself says more
RADIUS_LOW_MM, RADIUS_HIGH_MM = 5.0, 15.0
DEPTH, DEPTH_SPREAD = 0.85, 0.2
DEPTH_MOST = 0.97
# One deviation of removal inside a mark: residue, streaks, brightness not linear in the powder's thickness.
RESIDUE_FRAC = 0.10
PATCH_MM2 = 3.0  # area over which residue is alike: so much picture is one independent reading
RIM_SHOWS_FRAC = 0.3  # share of a full step that the model must predict for a rim place to count as visible
RIM_STEP_MM = 1.3


class DiscScene:
    """Removal, weights and pixel grid of the part of the face that matters; works in mm of a local frame."""

    def __init__(
        self, *, image: Image, weight: Image, x: Image, y: Image, sigma: float, share: float
    ) -> None:
        self.image, self.weight = image, weight
        self.x, self.y = x, y  # (w,), (h,) local mm: right, down
        self.sigma = sigma
        self.share = share  # independent readings per pixel
        self.radius_mm, self.radius_spread_mm = RADIUS_MM, RADIUS_SPREAD_MM
        self.origin = (0.0, 0.0)
        self.inside = np.ones(image.shape, bool)

    @classmethod
    def of(cls, powder: PowderMap, *, step: int) -> DiscScene | None:
        rows, cols = np.nonzero(powder.marked)
        if len(rows) < 20:
            return None
        margin = int(6 * powder.px_per_mm)
        r0, r1 = max(0, rows.min() - margin), min(powder.marked.shape[0], rows.max() + margin + 1)
        c0, c1 = max(0, cols.min() - margin), min(powder.marked.shape[1], cols.max() + margin + 1)
        rows_n, cols_n = (r1 - r0) // step * step, (c1 - c0) // step * step
        box = np.s_[r0 : r0 + rows_n, c0 : c0 + cols_n]
        px_per_mm = powder.px_per_mm / step

        def shrunk(image: Image) -> NDArray[np.float32]:
            size = (cols_n // step, rows_n // step)
            return np.asarray(cv2.resize(image[box], size, interpolation=cv2.INTER_AREA), np.float32)

        weight = shrunk(powder.weight)
        image = shrunk(np.clip(powder.removed, 0, 1.0) * powder.weight) / np.maximum(weight, 1e-3)
        scene = cls(
            image=np.clip(image, 0, 1),
            weight=weight,
            x=(np.arange(weight.shape[1]) / px_per_mm).astype(np.float32),
            y=(np.arange(weight.shape[0]) / px_per_mm).astype(np.float32),
            sigma=float(np.hypot(RESIDUE_FRAC, min(powder.noise_frac * 1.5, 0.3))),
            share=1 / (PATCH_MM2 * px_per_mm**2),
        )
        left, top = powder.mm_from_map([[c0 + (step - 1) / 2, r0 + (step - 1) / 2]])[0]
        scene.origin = (float(left), float(top))
        scene.inside = shrunk(powder.inside.astype(np.float32)) > 0.5
        return scene

    def params_of(self, seeds: Sequence[Circle]) -> Array:
        """(n, 4) x, y, radius [mm], depth."""
        rows = [
            [
                c.toe_mm - self.origin[0],
                self.origin[1] - c.high_mm,
                float(np.clip(c.radius_mm, self.radius_mm - 2, self.radius_mm + 2)),
                float(np.clip(c.fill_frac, 0.3, DEPTH_MOST)),
            ]
            for c in seeds
        ]
        return np.array(rows, float).reshape(-1, 4)

    def discs(self, p: Array) -> tuple[Image, Image]:
        """(n, h, w) soft discs and distances from their centres, in single precision for speed."""
        p = p.astype(np.float32)
        dx = self.x[None, None, :] - p[:, 0, None, None]
        dy = self.y[None, :, None] - p[:, 1, None, None]
        dist = np.sqrt(dx * dx + dy * dy) + np.float32(1e-6)
        m = 1 / (1 + np.exp(np.clip((dist - p[:, 2, None, None]) / np.float32(EDGE_SOFT_MM), -30, 30)))
        return m.astype(np.float32), dist.astype(np.float32)

    def left_over(self, p: Array) -> Image:
        """(h, w) powder left by all discs, prod(1 - q m)."""
        if len(p) == 0:
            return np.ones(self.image.shape, np.float32)
        m, _ = self.discs(p)
        return np.asarray(np.prod(1 - p[:, 3, None, None].astype(np.float32) * m, axis=0), np.float32)

    def loss(self, p: Array) -> float:
        """Negative log posterior without the prices: Huber of residuals plus priors on radius and depth."""
        rest = (self.image - (1 - self.left_over(p))) / self.sigma
        huber = np.where(np.abs(rest) < 1.5, 0.5 * rest**2, 1.5 * np.abs(rest) - 1.125)
        return float((huber * self.weight).sum() * self.share + self._prior(p))

    def judge(self, p: Array) -> float:
        """Like ``loss``, but forgives what a ragged rim explains: for births and deaths."""
        model = (1 - self.left_over(p)).astype(np.float32)
        n = max(3, 2 * round(RAGGED_MM / float(self.x[1] - self.x[0])) + 1)
        around = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (n, n))
        rest = self.image - np.clip(self.image, cv2.erode(model, around), cv2.dilate(model, around))
        rest = np.abs(rest) / self.sigma
        huber = np.where(rest < 1.5, 0.5 * rest**2, 1.5 * rest - 1.125)
        return float((huber * self.weight).sum() * self.share + self._prior(p))

    def _prior(self, p: Array) -> float:
        if len(p) == 0:
            return 0.0
        r = (p[:, 2] - self.radius_mm) / self.radius_spread_mm
        q = (p[:, 3] - DEPTH) / DEPTH_SPREAD
        return float(0.5 * (r @ r + q @ q))

    def fit(self, p: Array, n_steps: int) -> Array:
        """Gauss-Newton steps with step halving on the loss."""
        if len(p) == 0:
            return p
        best, damp = self.loss(p), 1e-3
        for _ in range(n_steps):
            H, g = self.normal_equations(p)
            step = np.linalg.solve(H + damp * np.diag(np.diag(H)), -g).reshape(-1, 4)
            limit = np.array([2.0, 2.0, 0.7, 0.2])
            new = self._bounded(p + np.clip(step, -limit, limit))
            value = self.loss(new)
            if value < best:
                done = best - value < 0.02
                p, best, damp = new, value, max(damp / 3, 1e-4)
                if done:
                    break
            else:
                damp = max(damp, 0.03) * 8
                if damp > 20:
                    break
        return p

    def _bounded(self, p: Array) -> Array:
        p = p.copy()
        p[:, 0] = np.clip(p[:, 0], self.x[0] - 3, self.x[-1] + 3)
        p[:, 1] = np.clip(p[:, 1], self.y[0] - 3, self.y[-1] + 3)
        p[:, 2] = np.clip(p[:, 2], RADIUS_LOW_MM, RADIUS_HIGH_MM)
        p[:, 3] = np.clip(p[:, 3], 0.15, DEPTH_MOST)
        return p

    def normal_equations(self, p: Array) -> tuple[Array, Array]:
        """Curvature (4n, 4n) and gradient (4n,) of the loss."""
        n = len(p)
        m, dist = self.discs(p)
        single = p.astype(np.float32)[:, :, None, None]
        keep = 1 - single[:, 3] * m
        left = np.prod(keep, axis=0)
        rest = (self.image - (1 - left)) / np.float32(self.sigma)
        weight = self.weight * np.float32(self.share) / np.maximum(np.abs(rest) / 1.5, 1.0)
        others = left[None] / (keep * np.float32(self.sigma))
        slope = others * single[:, 3] * m * (1 - m) / np.float32(EDGE_SOFT_MM)
        J = np.empty((n, 4, *m.shape[1:]), np.float32)
        np.multiply(slope, (self.x[None, None, :] - single[:, 0]) / dist, out=J[:, 0])
        np.multiply(slope, (self.y[None, :, None] - single[:, 1]) / dist, out=J[:, 1])
        J[:, 2] = slope
        np.multiply(others, m, out=J[:, 3])
        J = J.reshape(4 * n, -1)
        wj = J * weight.reshape(1, -1).astype(np.float32)
        H = (wj @ J.T).astype(float)
        g = -(wj @ rest.reshape(-1)).astype(float)
        at = np.arange(n) * 4
        H[at + 2, at + 2] += 1 / self.radius_spread_mm**2
        g[at + 2] += (p[:, 2] - self.radius_mm) / self.radius_spread_mm**2
        H[at + 3, at + 3] += 1 / DEPTH_SPREAD**2
        g[at + 3] += (p[:, 3] - DEPTH) / DEPTH_SPREAD**2
        H[np.arange(4 * n), np.arange(4 * n)] += 1e-6
        return H, g

    def births(self, p: Array, n: int) -> list[Array]:
        """The ``n`` most promising new discs (x, y, radius, depth), at least 4 mm apart.

        Squared-error gain of adding depth q: sum of 2 q R L m - (q L m)^2, with R the unexplained removal and
        L the powder left: two convolutions with a disc, for all places at once.
        """
        left = self.left_over(p)
        rest = np.clip(self.image - (1 - left), -0.25, 0.6)
        w = self.weight / self.sigma**2
        gain_of, spots = [], []
        for radius in (
            self.radius_mm - self.radius_spread_mm,
            self.radius_mm,
            self.radius_mm + self.radius_spread_mm,
        ):
            kernel = _kernel(radius, 1 / float(self.x[1] - self.x[0]))
            a = cv2.filter2D(w * rest * left, -1, kernel, borderType=cv2.BORDER_CONSTANT)
            b = cv2.filter2D(w * left * left, -1, kernel, borderType=cv2.BORDER_CONSTANT)
            q = np.clip(a / np.maximum(b, 1e-9), 0.2, DEPTH)
            gain = (q * a - 0.5 * q * q * b) * self.share
            gain[~self.inside] = -1
            gain_of.append(gain)
            spots.append((radius, q))
        stack = np.stack(gain_of)
        out: list[Array] = []
        best = stack.max(axis=0)
        for _ in range(n):
            at = int(np.argmax(best))
            row, col = divmod(at, best.shape[1])
            if best[row, col] <= 0.5:
                break
            k = int(np.argmax(stack[:, row, col]))
            out.append(np.array([self.x[col], self.y[row], spots[k][0], spots[k][1][row, col]]))
            near = np.hypot(self.x[None, :] - self.x[col], self.y[:, None] - self.y[row]) < 4.0
            best = np.where(near, -1, best)
        return out


def _kernel(radius_mm: float, px_per_mm: float) -> Array:
    half = int(np.ceil((radius_mm + 1) * px_per_mm))
    d = np.hypot(*np.meshgrid(np.arange(-half, half + 1), np.arange(-half, half + 1))) / px_per_mm
    return np.asarray(1 / (1 + np.exp(np.clip((d - radius_mm) / EDGE_SOFT_MM, -30, 30))))


def rim_test(scene: DiscScene, p: Array, i: int) -> tuple[float, float]:
    """Degrees of rim that the model leaves visible, and the seen step there over the predicted one."""
    angle = np.arange(72) * (2 * np.pi / 72)
    model = (1 - scene.left_over(p)).astype(np.float32)
    px = 1 / float(scene.x[1] - scene.x[0])

    def at(image: NDArray[np.float32], radius: float) -> Array:
        col = ((p[i, 0] + radius * np.cos(angle)) * px).astype(np.float32)
        row = ((p[i, 1] + radius * np.sin(angle)) * px).astype(np.float32)
        return (
            cv2.remap(image, col, row, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
            .reshape(-1)
            .astype(float)
        )

    image, weight = scene.image.astype(np.float32), scene.weight.astype(np.float32)
    inner, outer = p[i, 2] - RIM_STEP_MM, p[i, 2] + RIM_STEP_MM
    predicted = at(model, inner) - at(model, outer)
    seen = at(image, inner) - at(image, outer)
    ok = (predicted > RIM_SHOWS_FRAC * p[i, 3]) & (np.minimum(at(weight, inner), at(weight, outer)) > 0.5)
    if not ok.any():
        return 0.0, 0.0
    return float(ok.sum() * 5.0), float(np.clip(seen[ok], -0.2, 1.2).sum() / predicted[ok].sum())
