"""English: the sentences of the next practice block. Joined to the rest in ``en.py``."""

from __future__ import annotations

PLAN: dict[str, str] = {
    # --- what and why ---
    "plan.title": "Next block: {focus}",
    "plan.dose": "{balls} at {effort} % effort, about {minutes} minutes",
    "plan.range": "{low} to {high}",
    "plan.focus.strike": "strike",
    "plan.focus.start": "start line",
    "plan.focus.path": "swing path",
    "plan.focus.all together": "all together",
    "plan.why.off_centre": "The group lies {place}. A strike off the sweet spot starts and bends the ball"
    " by itself, so face and path are not judged before it is moved.",
    "plan.why.high_low": "The group lies {place}. Height is settled before anything later is judged.",
    "plan.why.scattered": "The strikes are scattered (spread {spread}). Nothing later is judged before"
    " they are closer together.",
    "plan.why.two_groups": (
        "The marks form two groups, as two different swings make them. One has to go first."
    ),
    "plan.why.not_settled": "The strike is not settled yet. Nothing later is judged before it is.",
    "plan.why.keep_on": "The same station goes on until its count has decided.",
    "plan.why.starts_unknown": "The strike is settled. Nobody has noted where the balls start.",
    "plan.why.cannot_tell": "The strike is settled. What is left of the flight is smaller than its doubt,"
    " so the starts are looked at more closely.",
    "plan.why.face": (
        "The strike is settled. What is left of the flight points to the face, and the face decides "
        "most of the start."
    ),
    "plan.why.path": "Strike and start are settled. The curve that is left points to the path.",
    "plan.why.path_told": "Strike and start are settled. Where the swing comes from was said, not measured.",
    "plan.why.settled": "Strike, start and path are settled one by one. Now all together.",
    "plan.why.retest": "This was held on another day. Only what holds again was learned.",
    # --- headings ---
    "plan.head.why": "Why",
    "plan.head.set up": "Set up",
    "plan.head.do": "Hit",
    "plan.head.rules": "Then",
    "plan.head.care": "Care",
    "plan.head.beside": "Also",
    "plan.head.doubts": "Doubts",
    # --- gate ---
    "plan.gate.head": "Head behind the ball, sweet spot opposite the ball.",
    "plan.gate.tees": (
        "One tee {toe} beyond the toe, one {heel} beyond the heel ({toe_tees} and {heel_tees} tee widths). "
        "Gap between them: {gap}. Tops just above the height at which the sole passes."
    ),
    "plan.fewer than one": "fewer than 1",
    "plan.gate.passes": (
        "About {likely} of 10 of your strikes should pass ({range}); {toe_hits} of 10 would strike the "
        "toe-side tee, {heel_hits} the heel-side tee."
    ),
    "plan.gate.through": "Of the {balls} read, {through} would have passed.",
    "plan.gate.kept": "The gate is the one of the last plan.",
    "plan.gate.joint": "Wider than for the strike alone, because a ball has to pass all three at once.",
    "plan.gate.means": "Toe-side tee struck: a heel strike. Heel-side tee struck: a toe strike.",
    "plan.gate.none": "No gate yet: it would be wider than the face. Hit slowly and look at every mark.",
    "plan.shift.nearer": "Shift first: stand {far} nearer to the ball and change nothing else (a test,"
    " not a verdict).",
    "plan.shift.farther": "Shift first: stand {far} farther from the ball and change nothing else (a"
    " test, not a verdict).",
    "plan.shift.gain": (
        "Through a gate for a centred group ({clear} either side) about {now} of 10 pass today "
        "({now_range}), {shifted} once shifted ({shifted_range}), {tighter} if the group were only a fifth "
        "tighter ({tighter_range})."
    ),
    "plan.shift.later": (
        "The group is off centre, but a tighter group gains more than a shifted one: first the gate."
    ),
    "plan.shift.after": (
        "When the marks have moved, set the tees {toe} beyond the toe and {heel} beyond the heel, gap {gap}."
    ),
    "plan.height.lower": "Tee the ball about {far} lower, half of what the marks are high. One change at"
    " a time.",
    "plan.height.higher": "Tee the ball about {far} higher, half of what the marks are low. One change at"
    " a time.",
    "plan.height.ground": "Off the ground there is no tee to change: brush the same spot of grass,"
    " slowly, and look again.",
    "plan.slower.two": (
        "No gate yet. Photograph after every three balls and note which swing made which mark. Keep the "
        "swing of one group ({keep}); leave that of the other ({leave})."
    ),
    "plan.slower.slow": "Slow down first; the gate is wide on purpose.",
    # --- sticks ---
    "plan.stick.one": "One stick {distance} ahead on the target line, leaning away from you.",
    "plan.stick.two": "Two sticks {distance} ahead, {gap} apart, the target line in the middle, both"
    " leaning away from you.",
    "plan.stick.side": "Two sticks {distance} ahead: one on the target line, one {gap} to its {side},"
    " both leaning away from you.",
    "plan.stick.free": "A ball passes that starts up to {angle}° to either side.",
    "plan.stick.free at": "A ball passes that starts up to {angle}° to either side: {off} at your {carry}.",
    "plan.stick.free side": "A ball passes that starts {near}° to {angle}° {side}.",
    "plan.stick.free side at": "A ball passes that starts {near}° to {angle}° {side}: up to {off} at your"
    " {carry}.",
    "plan.stick.strike": "Taken off first: your strike alone starts the ball {start} ({low} to {high}).",
    "plan.stick.face": (
        "Then the face may point from {low} to {high}, the path straight (the face decides about {share} % "
        "of the start, {share_low} to {share_high})."
    ),
    "plan.stick.face at most": (
        "Then the face may point up to {limit}, the swing line farther {side} still: that bends the ball "
        "back."
    ),
    "plan.stick.face at least": (
        "Then the face points {limit} or more, the swing line farther {side} still: that bends the ball back."
    ),
    "plan.face.open": "{angle}° open",
    "plan.face.closed": "{angle}° closed",
    # --- bottle ---
    "plan.bottle.outside": (
        "A light plastic bottle {along} behind the ball on the toe side, its near edge {out} beyond the "
        "ball-target line, away from you."
    ),
    "plan.bottle.inside": (
        "A light plastic bottle {along} ahead of the ball on the toe side, its near edge {out} beyond the "
        "ball-target line, away from you."
    ),
    "plan.bottle.fill": (
        "A finger of water, so that it stands and falls over. A soft head cover does as well, if it stands "
        "higher than {rise}; the head passes lower than that."
    ),
    "plan.bottle.ok outside": (
        "A centred strike that comes up to about {ok}° from outside clears it; from about {struck}° on it "
        "falls. Both are good to about 2°."
    ),
    "plan.bottle.ok inside": (
        "A centred strike that comes up to about {ok}° from inside clears it; from about {struck}° on it "
        "falls. Both are good to about 2°."
    ),
    "plan.bottle.try": (
        "Swing slowly without a ball first, and move it out until a good swing just clears it."
    ),
    # --- a good ball ---
    "plan.good.gate": "Good: both tees stand. The mark, where you look, then lies between {heel} heel and"
    " {toe} toe; if not, the gate is set wrong.",
    "plan.good.shift": (
        "Good: both tees stand and the mark lies between {heel} heel and {toe} toe, as most do once you "
        "have moved. Photograph after every three or four balls."
    ),
    "plan.good.zone": "Good: the mark lies within {zone} of the sweet spot.",
    "plan.good.group": (
        "Good: the mark lies nearer to the group that stays ({keep}) than to the other ({leave})."
    ),
    "plan.good.one": "Good: it passes within {half} of the stick. Note left, over or right for each ball.",
    "plan.good.one side": "Good: it starts to the {side} of the stick. Note left, over or right for each"
    " ball.",
    "plan.good.two": "Good: it passes between the sticks. Note left, in or right for each ball.",
    "plan.good.bottle": "Good: the bottle stands.",
    "plan.good.all": "Good: tees stand, it passes between the sticks, and it curves no more than {window}"
    " either way. Note which failed first: strike, start or curve.",
    "plan.slow": "Let the downswing take three times as long; do not shorten it. Effort is a feeling, not"
    " a speed.",
    "plan.small marks": (
        "Slow strikes leave small, faint marks: at half the speed about three quarters as wide. Photograph "
        "closer, after every few balls, and note the effort with the photo."
    ),
    # --- rules ---
    "plan.rule.so far": "Counted so far: {good} of {balls}.",
    "plan.rule.up": "{up}: step up to {effort} %.",
    "plan.rule.top": "{up}: held. The same on another day: learned.",
    "plan.rule.back": "{down}: back to {effort} %.",
    "plan.rule.easier": "{down}: slower, or set it wider.",
    "plan.rule.slower": "{down}: slower still, and read ten new marks.",
    "plan.rule.no change": "{down}: the change did not do it. Read ten new marks and plan again.",
    "plan.rule.narrow": "Then the sticks closer together: {gap}.",
    "plan.rule.new marks": "Then read twenty new marks and fit the gate anew.",
    "plan.rule.else": "Otherwise ten more; after thirty count anew.",
    "plan.rule.of": "{good} of {balls}",
    "plan.rule.or more": "{counts} or more",
    "plan.rule.or fewer": "{counts} or fewer",
    "plan.rule.stop": "Stop for today: pain in wrist, elbow or back (see a clinician), two failed sets,"
    " or marks that wander as you tire.",
    "plan.stop.pain": "Today is over: pain. See a clinician; this block is for when it is gone.",
    "plan.stop.two failed sets": "Today is over: two failed sets. This block is for another day.",
    "plan.stop.drift": "Today is over: the marks wander with ball number, as they do when you tire.",
    # --- care ---
    "plan.care.near": "Tees, sticks and bottles can fly: eye protection on, nobody ahead or beside you.",
    "plan.care.stick": (
        "A ball can come back off a stick, above all off one on the target line: lean it low and away from "
        "you, and cap its end."
    ),
    "plan.care.spray": "Spray outdoors, downwind, away from eyes and flames; do not breathe it.",
    "plan.care.rules": "Practice only: clean the face before you play (Rules of Golf 4.1a(3)). The"
    " range's own rules come first.",
    # --- offers ---
    "plan.offer.call_it": "Say where each ball was before you look, and write both down (facemark callit).",
    "plan.offer.miss_on_purpose": "At the end six balls on command: heel, toe, middle. Count by the marks.",
    "plan.offer.powder_and_clean": "Judge starts and curves with balls from a clean face: powder changes"
    " spin. Look at the strike with powder, apart.",
    # --- drawing ---
    "plan.draw.target": "target",
    "plan.draw.you": "you",
    "plan.draw.toe": "toe",
    "plan.draw.heel": "heel",
    "plan.draw.gap": "gap {gap}",
    "plan.draw.bottle": "bottle",
    "plan.draw.scale": "drawn to scale, from above",
    "plan.draw.hand": "{hand} player",
    "plan.set": "Set {n}",
    "plan.sheet.all": "Tick a good ball; otherwise write what failed first: strike, start, curve.",
    "plan.sheet.gate": (
        "Tick a good ball; otherwise write the tee that was struck: T (toe side) or H (heel side)."
    ),
    "plan.sheet.stick": "Tick a good ball; otherwise write L (left) or R (right).",
    "plan.sheet.plain": "Tick a good ball.",
    # --- after a block ---
    "plan.block.noted": "Noted: {focus}, {good} of {balls} at {effort} %.",
    "plan.block.failed": "Failed first at: {failed}.",
    "plan.block.move on": "Step up: {effort} % next.",
    "plan.block.held": "Held at full effort. On another day it is tried again; then it counts as learned.",
    "plan.block.learned": "Held again on another day: learned.",
    "plan.block.make it easier": "Step back: {effort} % next.",
    "plan.block.hit more": "Not decided: {good} of {balls} so far; {more} at {effort} %.",
    "plan.block.lowest": "Make it wider, or read ten new marks: {effort} % again.",
    "plan.block.stay": "Thirty balls without a decision: stay at {effort} % and count anew.",
    "plan.fail.strike": "strike {n}",
    "plan.fail.start": "start {n}",
    "plan.fail.curve": "curve {n}",
    "plan.tees.agree": "Tees and marks tell the same story.",
    "plan.tees.swapped": "Tees and marks fit only with the sides swapped: a struck tee on the TOE side"
    " means a HEEL strike. Check which tee fell.",
    "plan.tees.more": "More tees fell than the marks explain ({toe} toe-side and {heel} heel-side"
    " expected): the head was not set with its sweet spot at the ball, a tee stood too near, or the"
    " head came through twisted.",
    "plan.tees.fewer": "Fewer tees fell than the marks explain ({toe} toe-side and {heel} heel-side"
    " expected): the tees stand too wide, the ball was moved, or marks of other balls are on the face.",
    # --- called strikes ---
    "plan.call.err": "Your calls miss by about {err} ({least} to {most}; {balls}).",
    "plan.call.better": "Better than naming your usual place every time ({usual}).",
    "plan.call.no better": "Not shown to be better than naming your usual place every time ({usual}).",
    "plan.call.lean": "They lean {place}.",
    "plan.call.side": "{place} ({least} to {most})",
    "plan.call.no lean": "They lean to no side that can be shown.",
    "plan.purpose": (
        "On purpose: {good} of {balls} (your true rate: {least} to {most} %). The middle reaches {edge} to "
        "either side."
    ),
}
