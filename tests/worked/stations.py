"""Gate, corridor and bottle worked by hand, with the working kept. Nothing here calls facemark.

Four-figure tables or a pocket calculator give the same; angles in degrees, lengths in millimetres.
"""

from __future__ import annotations

# --- start corridor -------------------------------------------------------------------------------------
# Two sticks g apart at d ahead, ball of 42.67 mm (Equipment Rules): its middle keeps 21.335 mm from either
# stick. Half the free way h = g/2 - 21.335; angle = atan(h / d); small angles: h/d x 57.296, less a third of
# the cube. One decimal of these stands in the trade notes' table (10 ft: 1.0, 2.5, 4.3; 5 yd: 0.7, 1.6, 2.9),
# which was computed apart from this file.
#   10 ft = 3048 mm
#     6 in  = 152.4: h = 76.2 - 21.335 = 54.865;   54.865/3048  = 0.018000 -> 1.0312
#     12 in = 304.8: h = 152.4 - 21.335 = 131.065; 131.065/3048 = 0.043000 -> 2.4637 - 0.0015 = 2.4622
#     50 cm = 500:   h = 250 - 21.335 = 228.665;   228.665/3048 = 0.075021 -> 4.2984 - 0.0081 = 4.2904
#   5 yd = 4572 mm
#     6 in:  54.865/4572  = 0.012000 -> 0.6875
#     12 in: 131.065/4572 = 0.028667 -> 1.6425 - 0.0005 = 1.6421
#     50 cm: 228.665/4572 = 0.050014 -> 2.8656 - 0.0024 = 2.8632
CORRIDOR = (  # gap_mm, distance_mm, free angle to either side, table's one decimal
    (152.4, 3048.0, 1.0312, 1.0),
    (304.8, 3048.0, 2.4622, 2.5),
    (500.0, 3048.0, 4.2904, 4.3),
    (152.4, 4572.0, 0.6875, 0.7),
    (304.8, 4572.0, 1.6421, 1.6),
    (500.0, 4572.0, 2.8632, 2.9),
)
# A draw starts on the push side: one stick on the target line, the other 12 in to that side at 10 ft.
#   near edge: 21.335/3048 = 0.0069997 -> 0.4010;  far: (304.8 - 21.335)/3048 = 283.465/3048 = 0.093000
#   -> 5.3285 - 0.0153 = 5.3132
DRAW_WINDOW = (304.8, 3048.0, 0.4010, 5.3132)
# Sideways at a carry: 2.4622 deg at 200 yd: 200 tan = 200 x 0.043000 = 8.600 yd. One degree at 200 yd:
# 200 x 0.017455 = 3.49 yd, at 230 yd 4.01 yd (trade notes: 3.5 and 4.0).
YARDS = ((1.0, 200.0, 3.49), (1.0, 230.0, 4.01), (2.4622, 200.0, 8.600))

# --- strike gate ----------------------------------------------------------------------------------------
# Pass rate of a centred player, clearance c either side, spread s: 2 Phi(c/s) - 1, Phi from a printed table.
#   10/8  = 1.25:   Phi = 0.8944 -> 0.7888
#   13/10 = 1.30:   Phi = 0.9032 -> 0.8064
#   15/12 = 1.25:   0.7888
#   20/15 = 1.3333: Phi = 0.9088 -> 0.8176
# Off centre by one spread (8 of 8):
#   c 10: Phi((10-8)/8) - Phi((-10-8)/8) = Phi(0.25) - Phi(-2.25) = 0.5987 - 0.0122 = 0.5865
#   c 15: Phi(0.875) - Phi(-2.875) = 0.8092 - 0.0020 = 0.8072
PASSES = (  # toe-side clearance, heel-side clearance, centre, spread, pass rate
    (10.0, 10.0, 0.0, 8.0, 0.7888),
    (13.0, 13.0, 0.0, 10.0, 0.8064),
    (15.0, 15.0, 0.0, 12.0, 0.7888),
    (20.0, 20.0, 0.0, 15.0, 0.8176),
    (10.0, 10.0, 8.0, 8.0, 0.5865),
    (15.0, 15.0, 8.0, 8.0, 0.8072),
    # Unequal sides. Group 6 mm toward the toe, spread 8, 8 mm of room at the toe, 13 at the heel:
    #   Phi((13-6)/8) - Phi((-8-6)/8) = Phi(0.875) - Phi(-1.75) = 0.8092 - 0.0401 = 0.7691
    (8.0, 13.0, 6.0, 8.0, 0.7691),
)
# Head 120 mm, 11 mm of room at the toe, 14 at the heel: gap 120 + 11 + 14 = 145 mm.
GAP = (120.0, 11.0, 14.0, 145.0)

# --- bottle ---------------------------------------------------------------------------------------------
# Driver, head 120 mm, sweet spot in the middle, so the toe end is 60 mm out. Circle 1.75 m, plane 48 deg:
# cos 48 = 0.66913.
#   450 mm (18 in) behind: bend = 450^2 x 0.66913 / 3500 = 202500 x 0.66913 / 3500 = 38.71
#     ok 2 deg: 450 x 0.034921 = 15.71; room 10: out = 60 + 15.71 + 10 - 38.71 = 47.00 -> 45 (to 5 mm)
#     struck from: (45 - 60 + 38.71)/450 = 23.71/450 = 0.052689 -> 3.0189 - 0.0028 = 3.0161
#   300 mm ahead: bend = 90000 x 0.66913 / 3500 = 17.21
#     path 8 deg, ok 4: 300 x 0.069927 = 20.98; out = 60 + 20.98 + 10 - 17.21 = 73.77 -> 75
#     struck from: (75 - 60 + 17.21)/300 = 32.21/300 = 0.107367 -> 6.1517 - 0.0237 + 0.0002 = 6.1281
# How high is the head there? height = s^2 sin(tilt) / (2 R), sin 48 = 0.74314:
#   450 mm behind: 202500 x 0.74314 / 3500 = 43.0 mm; 300 mm ahead: 90000 x 0.74314 / 3500 = 19.1 mm
#   610 mm ahead, where one page has a basket: 372100 x 0.74314 / 3500 = 79.0 mm: a low one is overflown.
BOTTLES = (  # from outside?, path told, head, room, ahead, out, ok, struck
    (True, None, 120.0, 10.0, -450.0, 45.0, -2.0, -3.0161),
    (False, 8.0, 120.0, 10.0, 300.0, 75.0, 4.0, 6.1281),
)
RISES = ((True, 43.0), (False, 19.1))  # from outside?, height
