"""How does a flat thing of known size lie before the camera?

Every flat scale object (tags, our sheet, an ID-1 card) ends here: shapes whose millimetres are known, all in
ONE plane but with unknown places in it, and their corners in pixels. The plane is the one that explains all
corners at once. Focal length and lens distortion are not known exactly, so they take part as unknowns held
by what is known of them beforehand; so does the tilt, because people point a phone at a face more or less
squarely. The point of it: carrying the scale from the object to the face, several centimetres beside it, is
where the error comes from, and only a fit that knows its own doubts can say how large it is (metrology.md 7).

Method: maximum a posteriori by damped Gauss-Newton (Levenberg 1944, Marquardt 1963), started from both poses
of the infinitesimal plane method (IPPE, as in OpenCV's solvePnPGeneric); covariance from the same Jacobian.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from facemark.see.camera import Array, Camera

TILT_PRIOR_TAN = math.tan(math.radians(15.0))  # one sd of each tilt component; assumed
# One sd of the radial distortion a phone leaves in: 0.1-0.5 % at mid-field (metrology.md 2.4).
LENS_K1_SD = 0.025
CORNER_FLOOR_PX = 0.15  # line fits repeat to about 0.1 px; the rest is paper that is not quite flat; assumed
CORNER_FLOOR_FRAC = 0.0010  # of a shape's longest side: print and paper; assumed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shape:
    """A rigid flat shape: ``local_mm`` (K, 2), x right and y up as printed; the same points ``px`` (K, 2)."""

    local_mm: Array
    px: Array
    corner_err_px: float = CORNER_FLOOR_PX


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlaneFit:
    """The plane found. Unknowns (5): two tilts, log depth at the anchor, log focal length, lens k1.

    ``axes_cam`` (3, 3): columns x, y, out; out points to the camera. ``origin_cam_mm`` (3,) lies on the ray
    through ``anchor_px`` (2,). ``misfit_frac``: RMS of the corner residuals over their expected size.
    """

    camera: Camera
    axes_cam: Array
    origin_cam_mm: Array
    anchor_px: Array
    unknowns: Array
    covariance: Array
    misfit_frac: float
    residual_px: float
    cost_frac: float  # sum of squares, each over its expected size

    def log_scale_err(self, px: Array) -> float:
        """One standard error of the relative scale at pixel ``px``, from the pose, focal length and lens."""
        step = np.sqrt(np.diag(self.covariance)) * 0.1 + 1e-9
        slope = np.empty(5)
        for i in range(5):
            up, down = self.unknowns.copy(), self.unknowns.copy()
            up[i] += step[i]
            down[i] -= step[i]
            slope[i] = (self._log_scale(up, px) - self._log_scale(down, px)) / (2 * step[i])
        return float(math.sqrt(max(0.0, slope @ self.covariance @ slope)))

    def flipped(self, width_px: int) -> PlaneFit:
        """The same plane for the picture mirrored left to right."""
        sign = np.array([-1.0, 1.0, 1.0, 1.0, 1.0])
        out = self.axes_cam[:, 2] * sign[:3]
        return replace(
            self,
            axes_cam=axes_from_out(out),
            origin_cam_mm=self.origin_cam_mm * sign[:3],
            anchor_px=np.array([width_px - 1 - self.anchor_px[0], self.anchor_px[1]]),
            unknowns=self.unknowns * sign,
            covariance=self.covariance * np.outer(sign, sign),
        )

    def lens_gain(self, px: Array) -> float:
        """True mm per px at ``px`` over what the pinhole camera without the lens term says (about 1)."""
        pinhole = self.unknowns.copy()
        pinhole[4] = 0.0
        return math.exp(self._log_scale(self.unknowns, px) - self._log_scale(pinhole, px))

    def _log_scale(self, unknowns: Array, px: Array) -> float:
        """Log of mm/px where the ray through ``px`` meets the plane (square root of both directions)."""
        camera = replace(self.camera, focal_px=math.exp(unknowns[3]))
        out, origin = _plane(unknowns, camera, self.anchor_px)
        k1 = float(unknowns[4])
        ray = undistort(camera.rays(px), k1)[0]
        depth = float(origin @ out) / float(ray @ out)
        point = ray * depth
        axes = axes_from_out(out)
        around = point + 0.5 * np.array([axes[:, 0], -axes[:, 0], axes[:, 1], -axes[:, 1]])
        ends = camera.project(_distort(around, k1))
        return -0.5 * math.log(
            float(np.linalg.norm(ends[0] - ends[1])) * float(np.linalg.norm(ends[2] - ends[3]))
        )


def fit_plane(
    camera: Camera, shapes: Sequence[Shape], *, size_sd_frac: float = 0.0
) -> tuple[PlaneFit, Array]:
    """Find the plane that carries all shapes.

    Parameters
    ----------
    camera : Camera
        Its ``focal_err_frac`` says how freely the focal length may move.
    shapes : sequence of Shape
        At least one, each with at least 4 points.
    size_sd_frac : float
        0: all shapes have exactly their stated size. Otherwise each may differ by about this much, and the
        sizes found come back.

    Returns
    -------
    PlaneFit
    (n,) array
        Size found over size stated, per shape; ones if ``size_sd_frac`` is 0.
    """
    anchor = np.mean(np.vstack([s.px for s in shapes]), axis=0)
    biggest = max(shapes, key=lambda s: float(np.ptp(s.px, axis=0).max()))
    problem = _Problem(camera, shapes, anchor, size_sd_frac)
    best: tuple[float, Array, Array] | None = None
    for start in _starts(camera, biggest, anchor):
        found = _least_squares(problem.residuals, problem.complete(start))
        if best is None or found[0] < best[0]:
            best = found
    assert best is not None
    cost, theta, jacobian = best
    residuals = problem.residuals(theta[None])[0, : 2 * len(problem.px)]
    misfit = float(np.sqrt(np.mean(residuals**2)))
    # A fit worse than expected doubts everything it says by as much.
    covariance = np.linalg.inv(jacobian.T @ jacobian)[:5, :5] * max(1.0, misfit) ** 2
    fitted = replace(camera, focal_px=math.exp(theta[3]))
    out, origin = _plane(theta, fitted, anchor)
    fit = PlaneFit(
        camera=replace(fitted, focal_err_frac=float(math.sqrt(covariance[3, 3]))),
        axes_cam=axes_from_out(out),
        origin_cam_mm=origin,
        anchor_px=anchor,
        unknowns=theta[:5].copy(),
        covariance=covariance,
        misfit_frac=misfit,
        residual_px=float(np.sqrt(np.mean((residuals * np.repeat(problem.sigma, 2)) ** 2))),
        cost_frac=cost,
    )
    sizes = np.exp(theta[5 + 3 * len(shapes) :]) if size_sd_frac > 0 else np.ones(len(shapes))
    return fit, sizes


def axes_from_out(out: Array) -> Array:
    """(3, 3) columns x, y, out: x as level in the picture as the plane allows, right-handed."""
    x = np.array([1.0, 0.0, 0.0]) - out[0] * out
    x /= np.linalg.norm(x)
    return np.column_stack([x, np.cross(out, x), out])


def undistort(rays: Array, k1: float) -> Array:
    """(N, 3) straight rays of (N, 3) rays seen through a lens with radial term k1 (Brown 1966, one term)."""
    xy = rays[:, :2].copy()
    for _ in range(4):
        xy = rays[:, :2] / (1.0 + k1 * np.sum(xy**2, axis=1, keepdims=True))
    return np.column_stack([xy, np.ones(len(xy))])


def _distort(points_mm: Array, k1: float) -> Array:
    """(N, 3) points moved so that a pinhole sees them where the lens would show them."""
    xy = points_mm[:, :2] / points_mm[:, 2:]
    xy = xy * (1.0 + k1 * np.sum(xy**2, axis=1, keepdims=True))
    return np.column_stack([xy * points_mm[:, 2:], points_mm[:, 2]])


def _plane(unknowns: Array, camera: Camera, anchor_px: Array) -> tuple[Array, Array]:
    """Normal toward the camera and the plane's point on the anchor ray."""
    out = np.array([unknowns[0], unknowns[1], -1.0])
    out /= np.linalg.norm(out)
    return out, camera.rays(anchor_px)[0] * math.exp(unknowns[2])


class _Problem:
    """Residuals, in standard errors, of corners and prior knowledge; many sets of unknowns at once.

    Order of the unknowns: 5 of the plane, then x, y, turn of each shape, then log size of each (optional).
    """

    def __init__(
        self, camera: Camera, shapes: Sequence[Shape], anchor_px: Array, size_sd_frac: float
    ) -> None:
        self.camera, self.shapes, self.anchor_px = camera, shapes, anchor_px
        self.size_sd_frac = size_sd_frac
        self.log_focal = math.log(camera.focal_px)
        self.of_shape = np.repeat(np.arange(len(shapes)), [len(s.px) for s in shapes])
        self.local_mm = np.vstack([s.local_mm for s in shapes])
        self.px = np.vstack([s.px for s in shapes])
        sigma = [
            math.hypot(s.corner_err_px, CORNER_FLOOR_FRAC * float(np.ptp(s.px, axis=0).max())) for s in shapes
        ]
        self.sigma = np.array(sigma)[self.of_shape]

    def complete(self, start: Array) -> Array:
        """First guess of all unknowns, from the plane's: where each shape then lies in it."""
        camera = replace(self.camera, focal_px=math.exp(start[3]))
        out, origin = _plane(start, camera, self.anchor_px)
        axes = axes_from_out(out)
        places = []
        for shape in self.shapes:
            rays = camera.rays(shape.px)
            on_plane = (rays * (origin @ out / (rays @ out))[:, None] - origin) @ axes[:, :2]
            here, local = on_plane.mean(axis=0), shape.local_mm.mean(axis=0)
            a, b = shape.local_mm - local, on_plane - here
            turn = math.atan2(float(np.sum(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])), float(np.sum(a * b)))
            rotation = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
            places.append([*(here - rotation @ local), turn])
        n_sizes = len(self.shapes) if self.size_sd_frac > 0 else 0
        return np.concatenate([start, np.ravel(places), np.zeros(n_sizes)])

    def residuals(self, thetas: Array) -> Array:
        """(B, R) residuals of (B, P) sets of unknowns; the corners first, x and y in turn."""
        n = len(self.shapes)
        a, b, log_depth, log_focal, k1 = (thetas[:, i, None] for i in range(5))
        places = thetas[:, 5 : 5 + 3 * n].reshape(len(thetas), n, 3)[:, self.of_shape]
        log_size = thetas[:, 5 + 3 * n :]
        size = np.exp(log_size)[:, self.of_shape] if log_size.shape[1] else 1.0
        cos, sin = np.cos(places[:, :, 2]), np.sin(places[:, :, 2])
        x = size * (cos * self.local_mm[:, 0] - sin * self.local_mm[:, 1]) + places[:, :, 0]
        y = size * (sin * self.local_mm[:, 0] + cos * self.local_mm[:, 1]) + places[:, :, 1]
        # axes_from_out(), written out for many normals (a, b, -1): x level in the picture, y = out x x.
        length = np.sqrt(a * a + b * b + 1.0)
        o1, o2, o3 = a / length, b / length, -1.0 / length
        flat = np.sqrt(1.0 - o1 * o1)
        x1, x2, x3 = flat, -o1 * o2 / flat, -o1 * o3 / flat
        y1, y2, y3 = o2 * x3 - o3 * x2, o3 * x1 - o1 * x3, o1 * x2 - o2 * x1
        focal, depth = np.exp(log_focal), np.exp(log_depth)
        anchor = self.anchor_px - [self.camera.centre_x_px, self.camera.centre_y_px]
        z = depth + x * x3 + y * y3
        u = (depth * anchor[0] / focal + x * x1 + y * y1) / z
        v = (depth * anchor[1] / focal + x * x2 + y * y2) / z
        lens = focal * (1.0 + k1 * (u * u + v * v))
        du = (lens * u + self.camera.centre_x_px - self.px[:, 0]) / self.sigma
        dv = (lens * v + self.camera.centre_y_px - self.px[:, 1]) / self.sigma
        sight = anchor / self.camera.focal_px
        # The tilt is held against the mean of the optical axis and the line of sight: people do either.
        prior = [
            (a + 0.5 * sight[0]) / TILT_PRIOR_TAN,
            (b + 0.5 * sight[1]) / TILT_PRIOR_TAN,
            (log_focal - self.log_focal) / self.camera.focal_err_frac,
            k1 / LENS_K1_SD,
        ]
        if log_size.shape[1]:
            prior.append(log_size / self.size_sd_frac)
        corners = np.stack([du, dv], axis=2).reshape(len(thetas), -1)
        return np.concatenate([corners, *prior], axis=1)


def _starts(camera: Camera, shape: Shape, anchor_px: Array) -> list[Array]:
    """Both poses of one shape that a plane seen in perspective allows, as unknowns of the plane."""
    local = np.column_stack([shape.local_mm, np.zeros(len(shape.local_mm))])
    n, turns, shifts, _ = cv2.solvePnPGeneric(
        local, np.ascontiguousarray(shape.px), camera.matrix, None, flags=cv2.SOLVEPNP_IPPE
    )
    starts = []
    for turn, shift in zip(turns[:n], shifts[:n], strict=True):
        # OpenCV's camera also looks along +z, so the printed side's normal is the third column.
        out = np.asarray(cv2.Rodrigues(turn)[0])[:, 2]
        shift = np.asarray(shift).ravel()
        if out[2] > -0.2 or not np.all(np.isfinite(shift)) or shift[2] <= 0:
            continue
        depth = float(shift @ out) / float(camera.rays(anchor_px)[0] @ out)
        if depth > 0:
            starts.append(
                np.array(
                    [-out[0] / out[2], -out[1] / out[2], math.log(depth), math.log(camera.focal_px), 0.0]
                )
            )
    if not starts:
        size = float(np.ptp(shape.local_mm, axis=0).max() / np.ptp(shape.px, axis=0).max())
        starts.append(np.array([0.0, 0.0, math.log(size * camera.focal_px), math.log(camera.focal_px), 0.0]))
    return starts


def _least_squares(
    residuals: Callable[[Array], Array], start: Array, *, n_rounds: int = 40
) -> tuple[float, Array, Array]:
    """Cost, solution and Jacobian of a small damped Gauss-Newton fit.

    Our own thirty lines because importing scipy.optimize costs more time than the whole search (0.36 s).
    """
    theta = start.copy()
    value, jacobian = _value_and_slopes(residuals, theta)
    cost, damping = float(value @ value), 1e-3
    for _ in range(n_rounds):
        normal = jacobian.T @ jacobian
        step = np.linalg.solve(normal + damping * np.diag(np.diag(normal) + 1e-12), -jacobian.T @ value)
        # With its slopes at once: a step is mostly taken, and many points cost hardly more than one.
        trial, slopes = _value_and_slopes(residuals, theta + step)
        trial_cost = float(trial @ trial)
        if not np.isfinite(trial_cost) or trial_cost > cost:
            damping *= 10.0
            if damping > 1e9:
                break
            continue
        gain = cost - trial_cost
        theta, cost, damping = theta + step, trial_cost, damping * 0.2
        value, jacobian = trial, slopes
        if gain < 1e-6 * (1.0 + cost):
            break
    return cost, theta, jacobian


def _value_and_slopes(residuals: Callable[[Array], Array], theta: Array) -> tuple[Array, Array]:
    step = 1e-6 * np.maximum(1.0, np.abs(theta))
    values = residuals(np.vstack([theta, theta + np.diag(step)]))
    return values[0], (values[1:] - values[0]).T / step
