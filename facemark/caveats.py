"""Every doubt a result can carry: what it means, why it matters, what to do.

A caveat travels with the result and is printed beside the number it weakens. It never stops a reading; what
stops a reading is an error (errors.py). docs/reference/caveats.md is printed from this file, which is long
because it is one table.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Caveat:
    """One doubt. ``detail`` holds this reading's own numbers, already in words ("two tags, 1.8 % apart")."""

    key: str
    detail: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CaveatText:
    """What the pages and the report say about a caveat."""

    meaning: str
    matters: str
    remedy: str


TEXTS: dict[str, CaveatText] = {}


def _text(key: str, meaning: str, matters: str, remedy: str) -> str:
    TEXTS[key] = CaveatText(meaning=meaning, matters=matters, remedy=remedy)
    return key


# --- scale and camera ---
SCALE_FROM_FACE_LENGTH = _text(
    "scale_from_face_length",
    "The scale comes from the face's own length, not from an object in the photo.",
    "Every millimetre is as good as that length, and the camera's tilt is not known.",
    "Put the printed card or an ID-1 card beside the face.",
)
SCALE_FROM_BALL = _text(
    "scale_from_ball",
    "The scale comes from a ball, which may lie nearer or farther than the face.",
    "Each centimetre of depth changes all distances by about 3 % at arm's length; the tilt is not known.",
    "Touch the ball to the face, or use the printed card.",
)
CAMERA_TILTED = _text(
    "camera_tilted",
    "The camera looked at the face from an angle.",
    "Distances along the tilt are corrected, but a wrong plane costs more the steeper the view.",
    "Hold the phone square to the face.",
)
NO_FOCAL_LENGTH = _text(
    "no_focal_length",
    "The photo does not say its focal length; a typical phone camera was assumed.",
    "The face's curvature and depth are corrected less exactly.",
    "Send the original file instead of a chat copy.",
)
SCALES_DISAGREE = _text(
    "scales_disagree",
    "Two scale objects in the photo disagree.",
    "One of them lies outside the face plane, or its stated size is wrong.",
    "Leave only one in the photo, in the plane of the face, and check its size with a ruler.",
)
SHEET_UNCHECKED = _text(
    "sheet_unchecked",
    "Nobody checked the printed sheet's 100 mm line with a ruler.",
    "Printers are off by up to 1 or 2 %, and every distance with them.",
    "Measure the line once and give its length.",
)
SCALE_BENT = _text(
    "scale_bent",
    "The tags do not lie in one plane.",
    "The scale carried from them to the face is less sure.",
    "Glue the sheet to stiff card and keep it flat.",
)
PHOTO_MIRRORED = _text(
    "photo_mirrored",
    "The tags can only be read in a mirror: the photo is flipped left to right.",
    "Toe and heel follow the shaft, but a club for the other hand is seen.",
    "Turn off selfie mirroring.",
)
LOW_RESOLUTION = _text(
    "low_resolution",
    "The face is small in the photo.",
    "Edges and marks are found less exactly.",
    "Go closer, or send the original instead of a chat copy.",
)
# --- face ---
HAND_FROM_PHOTO = _text(
    "hand_from_photo",
    "Nobody said whether the player is right- or left-handed; the shaft's side in the photo was used.",
    "A mirrored selfie would swap left and right in the flight words; toe and heel stay right.",
    "Say --right or --left.",
)
HAND_CONTRADICTS = _text(
    "hand_contradicts",
    "The photo shows a club for the other hand than was told.",
    "The photo may be mirrored. Toe and heel follow the shaft; left and right follow what was told.",
    "Turn off selfie mirroring, or correct the hand.",
)
TOE_SIDE_ASSUMED = _text(
    "toe_side_assumed",
    "The shaft could not be seen, so the toe side follows from the player's hand with the sole down.",
    "If the photo is upside down or mirrored, toe and heel are swapped.",
    "Leave the hosel and some shaft in the picture.",
)
TURN_UNCERTAIN = _text(
    "turn_uncertain",
    "No score lines were found to show which way is level on the face.",
    "Toe-heel and high-low mix a little: about 0.35 mm at 20 mm for each degree.",
    "Photograph so that the score lines show.",
)
FACE_EDGE_UNCERTAIN = _text(
    "face_edge_uncertain",
    "Parts of the face's edge could not be seen clearly.",
    "The face centre, and with it every position, may be off.",
    "Use a plain dark background and even light; wipe overspray off crown and sole.",
)
FACE_NET_MISSING = _text(
    "face_net_missing",
    "The face was outlined without the learned finder.",
    "Difficult backgrounds fool the simple finder more often.",
    "Reinstall facemark with its weights.",
)
# --- marks ---
MARKS_TOUCH = _text(
    "marks_touch",
    "Marks lie over each other.",
    "Single positions are less sure; some balls may be hidden altogether.",
    "Photograph after every three or four balls, then wipe and spray again.",
)
MARKS_UNSEPARATED = _text(
    "marks_unseparated",
    "The marks cannot all be told apart; the group's centre and spread come from the worn powder as a whole.",
    "The centre is good, the single balls are not.",
    "Photograph after every three or four balls.",
)
MARK_AT_EDGE = _text(
    "mark_at_edge",
    "A mark is cut off by the edge of the face.",
    "Its centre is guessed from the part that shows.",
    "Trust a mark at the edge less than the others.",
)
COUNT_DIFFERS = _text(
    "count_differs",
    "The photo speaks for another number of balls than was told.",
    "Some balls may be hidden, missed the face, or the count is wrong.",
    "Check the number of balls.",
)
CHECK_DISAGREES = _text(
    "check_disagrees",
    "Two independent ways of reading the marks disagree.",
    "Positions may be wrong by more than stated.",
    "Take a second photo in softer light.",
)
MARKS_NET_MISSING = _text(
    "marks_net_missing",
    "The marks were split by the simple method, without the learned splitter.",
    "Overlapping marks are found less well.",
    "Reinstall facemark with its weights.",
)
GLARE = _text(
    "glare",
    "Part of the face shines.",
    "Marks under the glare cannot be seen.",
    "Turn the face away from the light, or shade it.",
)
THIN_POWDER = _text(
    "thin_powder",
    "The powder is thin or patchy.",
    "Bare patches look like marks, and marks look like bare patches.",
    "Wipe, spray evenly and let it dry.",
)
# --- series of photos ---
BALL_LEFT_NO_MARK = _text(
    "ball_left_no_mark",
    "A ball left no mark that can be told from the older ones.",
    "It may have landed where the powder was already gone, or missed the face; it is not in the pattern.",
    "Wipe and spray again after every three or four balls.",
)
RESPRAYED = _text(
    "resprayed",
    "The face was sprayed again between two photos.",
    "Marks after the new coat are read on their own; nothing is lost.",
    "Nothing to do.",
)
PHOTOS_MISALIGNED = _text(
    "photos_misaligned",
    "Two photos of the series could not be laid over each other exactly.",
    "Old rims may look like new marks, and new marks are placed less exactly.",
    "Keep the phone in the same place for all photos of a series.",
)
PHOTO_LEFT_OUT = _text(
    "photo_left_out",
    "An earlier photo of the series could not be measured and was left out.",
    "How many of its balls still show in the next photo is not known, and neither is their order.",
    "Check each photo at once (facemark check), while the marks are still the same.",
)
READ_FAST = _text(
    "read_fast",
    "The photo was read quickly: no second thing of known size was looked for, marks were looked at once.",
    "A wrong scale may go unnoticed; where marks lie over each other, one more may be missed or misplaced.",
    "Read it again without --fast where it matters.",
)
# --- by hand ---
CORRECTED_BY_HAND = _text(
    "corrected_by_hand",
    "This reading was corrected by hand.",
    "A place pointed at by hand is known to about 3 mm; the raw reading is kept beside it.",
    "Nothing to do; undo the corrections to see the raw reading.",
)
# --- explanation ---
FEW_STRIKES = _text(
    "few_strikes",
    "There are few strikes.",
    "The centre may shift by millimetres with the next balls.",
    "Hit more balls before you change anything.",
)
SWEET_SPOT_ASSUMED = _text(
    "sweet_spot_assumed",
    "Nobody measured this head's sweet spot; a typical place was used.",
    "Heads differ by a few millimetres, and all positions shift with it.",
    "Balance the head on a pin, mark the point, and write it in the club file.",
)
SWEET_SPOT_FROM_MARK = _text(
    "sweet_spot_from_mark",
    "The printed mark on the face was taken as the sweet spot.",
    "It shows the middle of the face; the balance point lies up to a few millimetres from it.",
    "Balance the head on a pin and write the point in the club file.",
)
CENTRE_MARK_NOT_FOUND = _text(
    "centre_mark_not_found",
    "No printed mark was found for certain near the middle of the face.",
    "The sweet spot was assumed from the face's outline instead.",
    "Wipe the powder off the mark alone, or leave --centre-mark out.",
)
CLUB_ASSUMED = _text(
    "club_assumed",
    "Typical values stand in for numbers of this head that nobody measured.",
    "The bend of an off-centre strike is then known only roughly.",
    "Measure bulge and sweet spot at home, and write them in the club file.",
)
SPEED_ASSUMED = _text(
    "speed_assumed",
    "Nobody said how fast the club moved; a typical speed was used.",
    "Start, bend and carry change with speed.",
    "Say --speed.",
)
NO_SHOTS_TOLD = _text(
    "no_shots_told",
    "Nothing was noted about how the balls flew.",
    "Face and path cannot be separated from the strike.",
    "Note start and curve of each ball.",
)
WIND_NOT_NOTED = _text(
    "wind_not_noted",
    "Nothing was noted about the wind.",
    "A light breeze across bends a drive by several metres; the path is then known less well.",
    "Note the wind, or say that it was calm.",
)
OUTSIDE_MODEL_RANGE = _text(
    "outside_model_range",
    "This strike or speed lies outside what the model was checked for.",
    "The numbers may be wrong by more than stated.",
    "Take them as a direction only.",
)
# --- pattern and comparison ---
MARK_STANDS_APART = _text(
    "mark_stands_apart",
    "A mark lies farther from the others than one group explains.",
    "It may be a thin or mishit ball, or no strike at all; it pulls the centre and widens the spread.",
    "Look at it in the picture. It is kept; the word without it is printed beside the word with it.",
)
MARK_OFF_FACE = _text(
    "mark_off_face",
    "A strike lies beyond the edge of any face of this kind.",
    "It may be a typing slip, a wrong unit, or a ball off the hosel.",
    "Check the number. It is kept until you take it out.",
)
SAME_PLACE_TWICE = _text(
    "same_place_twice",
    "Two strikes have exactly the same place.",
    "If one mark was written down twice, the group looks tighter and surer than it is.",
    "Check the list, and leave the second one out if it is a copy.",
)
MARKS_IN_LINE = _text(
    "marks_in_line",
    "All strikes lie in one place or on one line.",
    "There is no spread in some direction to judge by, so nothing is claimed there.",
    "Measure both toe-heel and high-low for every ball.",
)
SPREAD_BELOW_READING = _text(
    "spread_below_reading",
    "The marks are read no better than the strikes differ.",
    "The spread of the strikes is uncertain; it is never zero.",
    "Photograph closer and in soft light, after every three or four balls.",
)
WORD_HANGS_ON_MARK = _text(
    "word_hangs_on_mark",
    "The headline changes when the marks that are only likely are left out.",
    "A word that hangs on a mark nobody is sure of is not settled.",
    "Hit a few more balls, and photograph after every three or four.",
)
SWEET_SPOT_LIMITS = _text(
    "sweet_spot_limits",
    "What is common to all balls, mostly where the sweet spot lies, is known too roughly.",
    "More balls do not settle this direction.",
    "Measure the sweet spot and write it into the club file.",
)
BALLS_UNSEEN = _text(
    "balls_unseen",
    "Fewer strikes than balls hit.",
    "Balls that missed the face are missing from the spread, which is then at least this large.",
    "Say how many missed the face; photograph after every three or four balls.",
)
CONDITIONS_DIFFER = _text(
    "conditions_differ",
    "The sets were not hit under the same conditions.",
    "A difference may come from the conditions instead of the club or the player.",
    "Repeat with the same club, effort, tee height and way of finding the sweet spot.",
)
CONDITIONS_UNKNOWN = _text(
    "conditions_unknown",
    "It was not noted whether the sets were hit under the same conditions.",
    "A difference may come from effort or tee height.",
    "Note club, effort and tee height with every set.",
)
SWEET_SPOT_METHODS_DIFFER = _text(
    "sweet_spot_methods_differ",
    "The sweet spots were found in different ways.",
    "Centres measured from them cannot be compared; spreads can.",
    "Measure the sweet spot of every club in the same way.",
)
COUNTS_UNEQUAL = _text(
    "counts_unequal",
    "The sets hold very different numbers of balls.",
    "The smallest set decides what can be said.",
    "Hit the same number with each.",
)
DRIFT_IN_SET = _text(
    "drift_in_set",
    "The strikes wander with ball number.",
    "Tiredness or warming up mixes with what is compared.",
    "Rest, use the mixed order of facemark compare --plan, and repeat.",
)
BAD_DAY_FIRST = _text(
    "bad_day_first",
    "The first set is the worst of the series.",
    "A series that starts after a bad day gets better by itself.",
    "Leave the first set out of the trend (--started-bad), and go on counting.",
)
MARK_AT_LINE = _text(
    "mark_at_line",
    "A ball is too close to the line to call, or was hit but not seen.",
    "The decision may hang on it.",
    "Hit another block, or measure that ball again.",
)
SWEET_SPOT_UNTOLD = _text(
    "sweet_spot_untold",
    "Nobody said how well the sweet spot of these strikes is known; it was taken as exact.",
    "A sweet spot found by eye may be 2 mm off, and the centre with it, however many balls are hit.",
    "Say --sweet-err with one standard error in mm.",
)
GATE_ROUGH = _text(
    "gate_rough",
    "The gate is rough: few balls stand behind it, or the group is wider or flatter than most.",
    "The share that passes may be more or less than 7 to 9 of 10.",
    "Count the passes; with twenty balls read, fit it again.",
)
GATE_EFFORT = _text(
    "gate_effort",
    "The gate was fitted to balls hit at another effort than the block's.",
    "Slower swings are mostly tighter: the gate may be easy at first.",
    "Say --photo-effort, and read ten marks at the block's effort before you narrow it.",
)
BOTTLE_BY_EYE = _text(
    "bottle_by_eye",
    "The bottle's place rests on a typical swing circle.",
    "It is good to about 2 degrees of path.",
    "Swing slowly without a ball, and move the bottle out until the head just clears it.",
)

MARKS_LEFT_OUT = _text(
    "marks_left_out",
    "The newest marks are too few, or too merged, to plan from, and were left out.",
    "The plan rests on the blocks that were counted; the group may lie elsewhere by now.",
    "Read at least five separate marks: photograph after every three or four balls.",
)

# Doubts that pattern, flight and placing raise anew from the strikes handed to them.
RAISED_ANEW = {
    FEW_STRIKES,
    MARK_STANDS_APART,
    MARK_OFF_FACE,
    SAME_PLACE_TWICE,
    MARKS_IN_LINE,
    SPREAD_BELOW_READING,
    WORD_HANGS_ON_MARK,
    SWEET_SPOT_LIMITS,
    BALLS_UNSEEN,
    SPEED_ASSUMED,
    NO_SHOTS_TOLD,
    OUTSIDE_MODEL_RANGE,
}
