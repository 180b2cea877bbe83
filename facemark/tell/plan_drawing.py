"""The station from above, to scale: ball, head, tees, sticks, bottle, with the distances written.

The target is up. Toe points away from the player: to the right for a right-handed player, who stands on the
left, and mirrored for a left-handed one. Everything is told apart by shape and line, not by colour: ball
white with a ring, tees black dots, sticks crosses, bottle a hatched circle, distances thin with arrows.
matplotlib's Figure without pyplot: no global state, no screen.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from facemark.explain.constants import BALL_RADIUS_M
from facemark.explain.corridor import Corridor
from facemark.explain.gate import TEE_MM, Gate
from facemark.explain.path_gate import From, PathGate
from facemark.explain.practice import Practice
from facemark.inputs import ClubKind, Hand
from facemark.tell.plan_words import Teller

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Array = NDArray[np.float64]

INK = "#1a1a1a"
QUIET = "#6f6f6f"
HEAD_FILL = "#e3e3e3"
BALL_MM = 1000.0 * BALL_RADIUS_M.value
BOTTLE_MM = 32.0  # radius of a half-litre bottle; from memory
STICK_MM = 9.0  # thickness of a practice stick; from memory
# Heel-toe length -> depth front to back of a head's outline seen from above; from memory.
DEPTH_PER_LENGTH = {
    ClubKind.DRIVER: 0.95,
    ClubKind.FAIRWAY: 0.80,
    ClubKind.HYBRID: 0.55,
    ClubKind.IRON: 0.24,
    ClubKind.WEDGE: 0.26,
}
TEXT_PT = 8.5
SMALL_PT = 7.5


class Drawing:
    """Millimetres on the ground: out from the player, and toward the target. Mirrors for the hand."""

    def __init__(self, axes: Axes, teller: Teller) -> None:
        self.axes = axes
        self.teller = teller
        self.mirror = 1.0 if teller.hand is Hand.RIGHT else -1.0

    def x(self, out_mm: float) -> float:
        return self.mirror * out_mm

    def frame(self, out_mm: tuple[float, float], ahead_mm: tuple[float, float]) -> None:
        self.axes.set_xlim(*sorted((self.x(out_mm[0]), self.x(out_mm[1]))))
        self.axes.set_ylim(*ahead_mm)
        self.axes.set_aspect("equal")
        self.axes.axis("off")

    def words(
        self,
        out_mm: float,
        ahead_mm: float,
        text: str,
        *,
        ha: str = "center",
        size: float = TEXT_PT,
        bold: bool = False,
        color: str = INK,
    ) -> None:
        """Text on white; ``ha`` is given for a right-handed player and turned for a left-handed one."""
        if self.mirror < 0.0:
            ha = {"left": "right", "right": "left"}.get(ha, ha)
        self.axes.text(
            self.x(out_mm),
            ahead_mm,
            text,
            ha=ha,
            va="center",
            fontsize=size,
            fontweight="bold" if bold else "normal",
            color=color,
            zorder=8,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8},
        )

    def you(self, out_mm: float, ahead_mm: float) -> None:
        """Which side the player stands on, at the picture's edge."""
        words = self.teller.say("plan.draw.you")
        text = f"\N{LEFTWARDS ARROW} {words}" if self.mirror > 0.0 else f"{words} \N{RIGHTWARDS ARROW}"
        self.words(out_mm, ahead_mm, text, ha="left", color=QUIET)

    def ball(self) -> None:
        from matplotlib.patches import Circle

        self.axes.add_patch(Circle((0.0, 0.0), BALL_MM, fc="white", ec=INK, lw=1.6, zorder=5))

    def head(self, head_mm: float, sweet_toe_mm: float, kind: ClubKind) -> None:
        """The head just behind the ball, face square, sweet spot opposite the ball; and the shaft's start."""
        from matplotlib.patches import Polygon

        outline = _head_outline(head_mm, DEPTH_PER_LENGTH[kind])
        outline[:, 0] -= sweet_toe_mm
        outline[:, 1] -= BALL_MM + 2.0
        turned = np.column_stack([self.mirror * outline[:, 0], outline[:, 1]])
        self.axes.add_patch(Polygon(turned, closed=True, fc=HEAD_FILL, ec=INK, lw=1.4, zorder=3))
        heel = -0.5 * head_mm - sweet_toe_mm
        y = -BALL_MM - 2.0 - 0.10 * head_mm
        self.axes.plot(
            [self.x(heel + 0.12 * head_mm), self.x(heel - 0.45 * head_mm)],
            [y, y],
            color=INK,
            lw=3.2,
            solid_capstyle="butt",
            zorder=2,
        )

    def tee(self, out_mm: float, ahead_mm: float) -> None:
        """A tee whose inner edge is at ``out_mm``."""
        from matplotlib.patches import Circle

        centre = out_mm + math.copysign(TEE_MM / 2.0, out_mm)
        self.axes.add_patch(Circle((self.x(centre), ahead_mm), TEE_MM * 0.9, fc=INK, ec=INK, zorder=6))

    def stick(self, out_mm: float, ahead_mm: float, lean_mm: float) -> None:
        """A stick in the ground, leaning away from the player, so toward the target."""
        self.axes.plot(
            [self.x(out_mm), self.x(out_mm)],
            [ahead_mm, ahead_mm + lean_mm],
            color=INK,
            lw=2.6,
            solid_capstyle="round",
            zorder=6,
        )
        self.axes.plot([self.x(out_mm)], [ahead_mm], marker="o", ms=6, color=INK, zorder=7)

    def bottle(self, out_mm: float, ahead_mm: float) -> None:
        """A bottle whose near edge is at ``out_mm``."""
        from matplotlib.patches import Circle

        self.axes.add_patch(
            Circle(
                (self.x(out_mm + BOTTLE_MM), ahead_mm),
                BOTTLE_MM,
                fc="white",
                ec=INK,
                lw=1.4,
                hatch="////",
                zorder=6,
            )
        )

    def line(self, points: Array, *, dashes: str = "--", width: float = 0.9, color: str = QUIET) -> None:
        self.axes.plot(self.mirror * points[:, 0], points[:, 1], dashes, lw=width, color=color, zorder=1)

    def measure(
        self,
        start: tuple[float, float],
        end: tuple[float, float],
        text: str,
        *,
        beside_mm: float,
        ha: str = "center",
    ) -> None:
        """A distance between two points, with arrow heads, and its words beside the middle."""
        (x0, y0), (x1, y1) = start, end
        self.axes.annotate(
            "",
            xy=(self.x(x1), y1),
            xytext=(self.x(x0), y0),
            arrowprops={"arrowstyle": "<->", "lw": 0.9, "color": INK, "shrinkA": 0, "shrinkB": 0},
        )
        across = abs(x1 - x0) > abs(y1 - y0)
        at = ((x0 + x1) / 2.0, (y0 + y1) / 2.0)
        at = (at[0], at[1] + beside_mm) if across else (at[0] + beside_mm, at[1])
        self.words(*at, text, ha=ha, bold=True)

    def target(self, ahead_mm: float, length_mm: float) -> None:
        """An arrow along the target line."""
        self.axes.annotate(
            "",
            xy=(0.0, ahead_mm + length_mm),
            xytext=(0.0, ahead_mm),
            arrowprops={"arrowstyle": "-|>", "lw": 1.2, "color": QUIET},
        )
        self.words(0.0, ahead_mm + 1.25 * length_mm, self.teller.say("plan.draw.target"), color=QUIET)


def _head_outline(length_mm: float, depth_per_length: float) -> Array:
    """(N, 2) outline from above, face along y = 0, body behind; toe toward plus."""
    angle = np.linspace(0.0, -math.pi, 60)
    depth = depth_per_length * length_mm
    x = 0.5 * length_mm * np.sign(np.cos(angle)) * np.abs(np.cos(angle)) ** 0.8
    y = depth * -(np.abs(np.sin(angle)) ** 0.75)
    corner = 0.035 * length_mm  # the face's ends are round
    y = np.minimum(y, -corner * (np.abs(x) / (0.5 * length_mm)) ** 6)
    face = np.column_stack(
        [np.linspace(-0.5, 0.5, 40) * length_mm, -corner * np.abs(np.linspace(-1.0, 1.0, 40)) ** 6]
    )
    return np.asarray(np.vstack([np.column_stack([x, y]), face]))


def station_drawings(practice: Practice, teller: Teller) -> list[Callable[[Axes], None]]:
    """One drawing for each thing that is set up, in the order they are; ball and head where nothing is."""
    station = practice.station
    found: list[Callable[[Axes], None]] = []
    gate, corridor, bottle = station.gate, station.corridor, station.path_gate
    if gate is not None:
        found.append(lambda axes: draw_gate(Drawing(axes, teller), gate, practice))
    if corridor is not None:
        found.append(lambda axes: draw_corridor(Drawing(axes, teller), corridor))
    if bottle is not None:
        found.append(lambda axes: draw_bottle(Drawing(axes, teller), bottle, practice))
    return found or [lambda axes: draw_plain(Drawing(axes, teller), practice)]


def draw_gate(drawing: Drawing, gate: Gate, practice: Practice) -> None:
    """Two tees around the head."""
    teller, sweet = drawing.teller, practice.sweet_toe_mm
    toe_end, heel_end = 0.5 * gate.head_mm - sweet, -0.5 * gate.head_mm - sweet
    toe_tee, heel_tee = toe_end + gate.toe_clear_mm, heel_end - gate.heel_clear_mm
    level = -BALL_MM - 2.0  # of the face
    reach = max(toe_tee, -heel_tee) + 38.0
    low = level - DEPTH_PER_LENGTH[practice.kind] * gate.head_mm - 8.0
    drawing.frame((-reach, reach), (min(low, -60.0), 144.0))
    drawing.head(gate.head_mm, sweet, practice.kind)
    drawing.ball()
    drawing.tee(toe_tee, level)
    drawing.tee(heel_tee, level)
    for out in (toe_tee, toe_end, heel_end, heel_tee):
        drawing.line(np.array([(out, level + 6.0), (out, 68.0)]), dashes="-", width=0.5)
    for tee, end, clear in (
        (toe_tee, toe_end, gate.toe_clear_mm),
        (heel_tee, heel_end, gate.heel_clear_mm),
    ):
        # A narrow clearance has no room for words between arrow heads: a bar, and the words above it.
        drawing.line(np.array([(end, 36.0), (tee, 36.0)]), dashes="-", width=2.4, color=INK)
        drawing.words((tee + end) / 2.0, 49.0, teller.face(clear), bold=True)
    gap = teller.say("plan.draw.gap", gap=teller.face(gate.gap_mm))
    drawing.measure((heel_tee, 68.0), (toe_tee, 68.0), gap, beside_mm=12.0)
    drawing.words(toe_tee + 4.0, level - 16.0, teller.say("plan.draw.toe"), size=SMALL_PT)
    drawing.words(heel_tee - 4.0, level - 30.0, teller.say("plan.draw.heel"), size=SMALL_PT)
    drawing.you(-reach, min(low, -60.0) + 12.0)
    drawing.target(92.0, 32.0)


def draw_corridor(drawing: Drawing, corridor: Corridor) -> None:
    """Sticks ahead of the ball, and the edges of the starts that pass."""
    teller = drawing.teller
    ahead, gap = 1000.0 * corridor.distance_m, 1000.0 * corridor.gap_m
    push = [math.tan(math.radians(edge)) * ahead for edge in (corridor.low_push_deg, corridor.high_push_deg)]
    sticks = [0.0] if corridor.n_sticks == 1 else [-gap / 2.0, gap / 2.0]
    if corridor.shape is not None and corridor.n_sticks == 2:
        sticks = [0.0, math.copysign(gap, sum(push))]
    lean = 0.10 * ahead
    wide = max(0.30 * ahead, gap + 250.0)
    drawing.frame((-wide, wide), (-0.16 * ahead, 1.32 * ahead))
    for edge in push:
        drawing.line(np.array([(0.0, 0.0), (1.12 * edge, 1.12 * ahead)]), dashes="--", width=1.0)
    drawing.axes.fill(
        [0.0, drawing.x(push[0]), drawing.x(push[1])], [0.0, ahead, ahead], color=HEAD_FILL, zorder=0
    )
    for out in sticks:
        edge = out + (math.copysign(STICK_MM / 2.0, out) if out else 0.0)
        drawing.stick(edge, ahead, lean)
    # The ball is drawn larger than life: at this scale it would be a dot.
    drawing.axes.plot([0.0], [0.0], marker="o", ms=8, mfc="white", mec=INK, mew=1.5, zorder=6)
    drawing.measure(
        (-0.55 * wide, 0.0),
        (-0.55 * wide, ahead),
        teller.ahead(corridor.distance_m),
        beside_mm=0.0,
    )
    if corridor.n_sticks == 2:
        low, high = sorted(sticks)
        drawing.measure(
            (low, ahead - 0.05 * ahead),
            (high, ahead - 0.05 * ahead),
            teller.ground(gap),
            beside_mm=-0.045 * ahead,
        )
    angle = max(abs(corridor.low_push_deg), abs(corridor.high_push_deg))
    far = max(push)  # on the toe side, where no distance stands
    far = far if abs(far) > 0.5 * max(map(abs, push)) else min(push)
    drawing.words(
        0.62 * far + math.copysign(0.05 * wide, far),
        0.55 * ahead,
        f"{teller.number(angle, 1)}°",
        ha="left" if far > 0.0 else "right",
    )
    drawing.you(-wide, -0.10 * ahead)
    drawing.target(1.14 * ahead, 0.08 * ahead)


def draw_bottle(drawing: Drawing, bottle: PathGate, practice: Practice) -> None:
    """Ball, head, the bottle, and the way of the head's toe end on the path that still passes."""
    teller = drawing.teller
    behind = bottle.comes_from is From.OUTSIDE
    low, high = (-620.0, 260.0) if behind else (-300.0, 500.0)
    wide = 0.42 * (high - low)
    drawing.frame((-wide, wide), (low, high))
    drawing.line(np.array([(0.0, low + 20.0), (0.0, high - 110.0)]), dashes=":", width=1.0)
    reach = 0.5 * bottle.head_mm - practice.sweet_toe_mm
    along = np.linspace(low + 30.0, high - 130.0, 80)
    bend = along**2 * math.cos(math.radians(bottle.tilt_deg)) / (2000.0 * bottle.radius_m)
    for path, dashes, width in ((bottle.ok_out_deg, "-", 1.4), (bottle.struck_out_deg * 1.5, "--", 1.0)):
        out = reach + along * math.tan(math.radians(path)) - bend
        drawing.line(np.column_stack([out, along]), dashes=dashes, width=width, color=INK)
    drawing.head(bottle.head_mm, practice.sweet_toe_mm, practice.kind)
    drawing.ball()
    drawing.bottle(bottle.out_mm, bottle.ahead_mm)
    drawing.measure(
        (-0.62 * wide, 0.0),
        (-0.62 * wide, bottle.ahead_mm),
        teller.ground(abs(bottle.ahead_mm)),
        beside_mm=-12.0,
        ha="right",
    )
    for level in (0.0, bottle.ahead_mm):
        drawing.line(np.array([(-0.66 * wide, level), (0.0, level)]), dashes="-", width=0.5)
    under = bottle.ahead_mm - math.copysign(BOTTLE_MM + 26.0, -bottle.ahead_mm) * (1.0 if behind else -1.0)
    drawing.measure(
        (0.0, under),
        (bottle.out_mm, under),
        teller.ground(bottle.out_mm),
        beside_mm=-24.0 if behind else 24.0,
    )
    drawing.line(np.array([(bottle.out_mm, bottle.ahead_mm), (bottle.out_mm, under)]), dashes="-", width=0.5)
    drawing.words(
        bottle.out_mm + 2.0 * BOTTLE_MM + 12.0,
        bottle.ahead_mm,
        teller.say("plan.draw.bottle"),
        ha="left",
        size=SMALL_PT,
    )
    drawing.you(-wide, low + 30.0)
    drawing.target(high - 100.0, 50.0)


def draw_plain(drawing: Drawing, practice: Practice) -> None:
    """Ball and head where nothing is set up."""
    drawing.frame((-165.0, 165.0), (-190.0, 150.0))
    drawing.head(110.0, practice.sweet_toe_mm, practice.kind)
    drawing.ball()
    drawing.you(-165.0, -150.0)
    drawing.target(60.0, 34.0)
