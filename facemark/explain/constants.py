"""What are the numbers behind a strike and a flight, and who says so?

Every number the physics uses and nobody tells us: value, one standard error, source. ``source`` is a key of
sources.py, or "from memory" (no stored source confirmed it), or "assumed" (our own choice), or "fit" (chosen
so that published rows come out; tests/published/physics.toml names the rows that were tuned on).
Heads are in clubs.py; here is what no club file states.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

from facemark.inputs import ClubKind


class Constant(NamedTuple):
    """A value, one standard error, and where it comes from. The unit is in the constant's name."""

    value: float
    err: float
    source: str


class Assumed(NamedTuple):
    """A value nobody told us, and the range it is drawn from."""

    value: float
    low: float
    high: float
    source: str


# --- the ball ---
BALL_KG = Constant(0.04593, 0.0001, "equipment-rules")  # the limit; balls are made close to it
BALL_RADIUS_M = Constant(0.021335, 0.00003, "equipment-rules")  # half the least diameter, 42.67 mm
BALL_INERTIA_FRAC = Constant(0.4, 0.01, "assumed")  # of m R^2: 83.6 g cm2, as adjust-2020 has it
GRAVITY_MPS2 = Constant(9.80665, 0.0, "iso2533")

# --- the contact ---
RESTITUTION_SPEED_MPS = 45.0  # the approach speed at which ``restitution_frac`` is stated
RESTITUTION_TOE_SCALE_MM = 20.0  # physics of the loss off centre: 1 - q_t (T/20)^2 - q_h (H/12)^2
RESTITUTION_HIGH_SCALE_MM = 12.0
RESTITUTION_DROP_PER_MPS = Constant(0.002, 0.0005, "from memory")
CONTACT_S = Constant(0.45e-3, 0.03e-3, "from memory")  # about half a millisecond
FRICTION_FRAC = Assumed(0.40, 0.30, 0.45, "henrikson-2020")  # urethane 0.40, ionomer 0.35 (as quoted)
# What a rigid head on no shaft cannot get right, as a factor on the depth that makes gear effect.
GEAR_MODEL_FRAC = Constant(1.0, 0.12, "assumed")
# How far the loss of restitution off centre may be wrong: standard error of its logarithm. Wide enough that
# the loss of ball speed as a whole, most of which is the rigid head's turning, is known to about 30 %.
OFF_CENTRE_LOSS_LOG = Constant(0.0, math.log(2.2), "assumed")


class FaceSpring(NamedTuple):
    """How a kind's face gives back: along the normal, off centre, and along the face."""

    restitution_frac: Constant  # ball on head, at RESTITUTION_SPEED_MPS
    toe_loss_frac: float  # share lost at 20 mm from the face centre, toe or heel
    high_loss_frac: float  # share lost at 12 mm from the face centre, high or low
    grip_return_frac: Assumed  # tangential restitution; 0: the ball leaves rolling


# Restitution: 0.83 in adjust-2020 and 0.82 for a test club in distance-limit; ours is tuned to tour ball
# speeds. Losses off centre: from memory. Grip: fitted to spin rows; compliance as its cause: henrikson-2020.
FACE_SPRINGS: Mapping[ClubKind, FaceSpring] = MappingProxyType(
    {
        ClubKind.DRIVER: FaceSpring(
            Constant(0.845, 0.012, "fit"), 0.03, 0.03, Assumed(0.00, -0.15, 0.15, "fit")
        ),
        ClubKind.FAIRWAY: FaceSpring(
            Constant(0.830, 0.015, "fit"), 0.03, 0.03, Assumed(0.05, -0.10, 0.20, "fit")
        ),
        ClubKind.HYBRID: FaceSpring(
            Constant(0.815, 0.015, "fit"), 0.03, 0.03, Assumed(0.10, -0.05, 0.25, "fit")
        ),
        ClubKind.IRON: FaceSpring(
            Constant(0.740, 0.020, "fit"), 0.05, 0.08, Assumed(0.20, 0.00, 0.40, "fit")
        ),
        ClubKind.WEDGE: FaceSpring(
            Constant(0.720, 0.020, "fit"), 0.04, 0.06, Assumed(0.20, 0.00, 0.40, "fit")
        ),
    }
)

# --- the air (ISO 2533 at sea level) ---
AIR_GAS_J_PER_KGK = 287.05287  # iso2533
AIR_PRESSURE_PA = 101_325.0  # iso2533
AIR_TEMPERATURE_C = 15.0  # iso2533
AIR_LAPSE_K_PER_M = 0.0065  # iso2533, up to 11 km
AIR_DENSITY_KGM3 = 1.225  # iso2533
SUTHERLAND_KG_PER_MSK = 1.458e-6  # iso2533, dynamic viscosity
SUTHERLAND_K = 110.4  # iso2533

# --- the ball in the air ---
# C_D = zero + spin S + low_speed / (1 + exp((Re - middle)/width));  C_L = top S / (half + S)
DRAG_ZERO_FRAC = Constant(0.225, 0.010, "fit")
DRAG_SPIN_FRAC = Constant(0.15, 0.0, "fit")
DRAG_SLOW_FRAC = Constant(0.30, 0.0, "fit")
DRAG_SLOW_MIDDLE = 7.0e4  # Reynolds number
DRAG_SLOW_WIDTH = 8.0e3
LIFT_TOP_FRAC = Constant(0.41, 0.04, "fit")
LIFT_HALF_FRAC = Constant(0.135, 0.0, "fit")
SPIN_DECAY_FRAC = Constant(2.0e-5, 0.3e-5, "smits-smith-1994")
# What the coefficient sources cover together (smits-smith-1994, lyu-2018).
REYNOLDS_RANGE = (7.0e4, 2.1e5)
SPIN_RATIO_RANGE = (0.0, 0.32)

# --- the swing, when nobody tells ---
TYPICAL_HEAD_MPS: Mapping[ClubKind, Assumed] = MappingProxyType(
    {
        ClubKind.DRIVER: Assumed(42.0, 34.0, 51.0, "from memory"),
        ClubKind.FAIRWAY: Assumed(40.0, 32.0, 48.0, "from memory"),
        ClubKind.HYBRID: Assumed(38.0, 31.0, 45.0, "from memory"),
        ClubKind.IRON: Assumed(35.0, 28.0, 41.0, "from memory"),
        ClubKind.WEDGE: Assumed(32.0, 25.0, 38.0, "from memory"),
    }
)
STATED_SPEED_ERR_FRAC = 0.02  # assumed, of a head speed that is told
HEAD_MPS_CHECKED = (25.0, 56.0)  # published rows run from 70 to 120 mph
TOE_CHECKED_MM = 20.0  # published rows go no farther off centre than half an inch; assumed margin
HIGH_CHECKED_MM = 16.0
ATTACK_UP_DEG: Mapping[ClubKind, Assumed] = MappingProxyType(
    {
        # The plain value is level for every kind, so that a checker needs no hidden number.
        ClubKind.DRIVER: Assumed(0.0, -4.0, 5.0, "from memory"),
        ClubKind.FAIRWAY: Assumed(0.0, -5.0, 2.0, "from memory"),
        ClubKind.HYBRID: Assumed(0.0, -6.0, 1.0, "from memory"),
        ClubKind.IRON: Assumed(0.0, -7.0, 0.0, "from memory"),
        ClubKind.WEDGE: Assumed(0.0, -8.0, 0.0, "from memory"),
    }
)
FACE_PRIOR_DEG = 3.0  # from memory: how far faces point off, one standard deviation over golfers
PATH_PRIOR_DEG = 4.0  # from memory
# A strike nobody looked at: one standard deviation over amateurs' drives; from memory.
UNSEEN_TOE_MM = 11.0
UNSEEN_HIGH_MM = 8.0

# --- what people see of a ball ---
START_ERR_EYE_DEG = 1.0  # one ball against a stick on a range; assumed
START_ERR_MEASURED_DEG = 0.3  # assumed
AIM_ERR_DEG = 0.5  # how well stick and body point at the target: common to the set; assumed
CURVE_ERR_EYE_M = 3.0  # or a quarter of the bend, whichever is more; assumed
CURVE_ERR_EYE_FRAC = 0.25
CURVE_ERR_MEASURED_M = 1.0  # or a twentieth of the bend; assumed
CURVE_ERR_MEASURED_FRAC = 0.05
STRAIGHT_DEG = 1.0  # "straight" over a single stick: within this; assumed
NO_CURVE_M = 4.0  # "no curve": within this; assumed
# How much a golfer's own starts and curves differ from ball to ball, when only sides were noted: three
# equally likely sizes, from memory.
START_SPREADS_DEG = (1.2, 2.2, 4.0)
CURVE_SPREADS_M = (4.0, 8.0, 15.0)
WIND_NOTED_ERR_FRAC = 0.3  # of the wind that was noted; assumed
WIND_CALM_ERR_MPS = 0.5  # of "calm"; assumed
WIND_UNSEEN_ERR_MPS = 1.5  # along and across, when nobody said anything; assumed

# --- when something is to blame ---
FACE_MATTERS_DEG = 1.0  # smaller than this, nobody would work on it; assumed
PATH_MATTERS_DEG = 1.5
FACE_SMALL_DEG = 2.0  # "the strike alone explains it" needs face and path within these, almost surely
PATH_SMALL_DEG = 3.0
SURE_FRAC = 0.8
BLAME_FRAC = 0.98  # a face or path is blamed when its range at this level lies on one side of zero
