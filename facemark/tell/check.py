"""Is this photo good enough? A short list, each line with what to do, in a few seconds.

Runs the stages of a reading up to the rectified face, no farther: marks are not looked for. Where a stage
refuses, its sentence becomes a line of the list, and what can still be judged is judged.
"""

from __future__ import annotations

from facemark.errors import FaceError, FacemarkError, PhotoError, ScaleError
from facemark.inputs import Photo, ReferenceKind, Setup
from facemark.reading import Measured
from facemark.see.camera import Array
from facemark.see.face import find_face
from facemark.see.face_net import guess_face
from facemark.see.outline import Outline, find_outline
from facemark.see.place import check_face_size
from facemark.see.quality import (
    Finding,
    Grade,
    check_glare,
    check_light,
    check_photo,
    check_sharpness,
    check_size,
    check_tilt,
)
from facemark.see.rectify import rectify
from facemark.see.references import Sighting, find_references
from facemark.see.scale import Scale, find_scale
from facemark.see.small import shrink

FAIR_SCALE_ERR_FRAC = 0.03  # one standard error; a mark 25 mm out is then 0.75 mm off. Assumed
GRADE_WORDS = {Grade.GOOD: "good", Grade.FAIR: "fair", Grade.BAD: "BAD"}


def look_over(photo: Photo, setup: Setup) -> tuple[Finding, ...]:
    """Judge one photo; nothing is raised for a poor one."""
    small = shrink(photo.pixels)
    try:
        check_photo(photo, small=small)
    except PhotoError as err:
        return (_refused("photo", err),)
    found: list[Finding] = []
    try:
        guess = guess_face(photo, small=small)
    except FaceError as err:
        return (_refused("face", err),)
    seen: tuple[Sighting, ...] = ()
    try:
        near_px = None if guess is None else guess.centre_px
        seen = find_references(photo, setup.reference, near_px=near_px, small=small)
    except ScaleError as err:
        found.append(_refused("scale", err))
    footprints = [polygon for one in seen for polygon in one.footprint_px]
    try:
        outline = find_outline(photo, avoid_px=footprints, guess=guess, bulging=setup.club.kind.is_wood)
    except FaceError as err:
        return (*found, _refused("face", err))
    found.append(Finding(what="face", grade=Grade.GOOD, says="the whole face was found"))
    found.append(check_light(photo, outline.outline_px))
    if any(one.what == "scale" for one in found):
        return tuple(found)
    return (*found, *_measured(photo, setup, outline, seen=seen, footprints=footprints))


def look_over_measured(photo: Photo, measured: Measured) -> tuple[Finding, ...]:
    """Judge a photo that has been measured already, without looking for anything again."""
    face, scale = measured.face, measured.scale
    px_per_mm = 1.0 / face.frame.mm_per_px
    outlines = [face.outline_px, *scale.footprint_px]
    return (
        Finding(what="face", grade=Grade.GOOD, says="the whole face was found"),
        check_light(photo, face.outline_px),
        _scale_finding(scale),
        check_tilt(scale),
        check_size(px_per_mm),
        check_sharpness(photo, outlines, px_per_mm, printed=scale.pose_known),
        check_glare(rectify(photo.pixels, face.frame, face.outline_mm)),
    )


def check_lines(name: str, findings: tuple[Finding, ...]) -> list[str]:
    """The list as text: one line each, what to do below it, and the verdict."""
    lines = [name]
    for one in findings:
        lines.append(f"  {GRADE_WORDS[one.grade]:<5s} {one.what}: {one.says.rstrip('.')}.")
        if one.remedy:
            lines.append(f"        {one.remedy}")
    if not usable(findings):
        return [*lines, "This photo cannot be measured."]
    fair = any(one.grade is Grade.FAIR for one in findings)
    return [*lines, "It can be read; it could be better." if fair else "Good: it can be read."]


def usable(findings: tuple[Finding, ...]) -> bool:
    """Whether a reading is worth trying."""
    return all(one.grade is not Grade.BAD for one in findings)


def _measured(
    photo: Photo, setup: Setup, outline: Outline, *, seen: tuple[Sighting, ...], footprints: list[Array]
) -> list[Finding]:
    """Everything that needs the scale."""
    told_mm = setup.reference.size_mm if setup.reference.kind is ReferenceKind.FACE else None
    try:
        scale = find_scale(
            photo,
            setup.reference,
            outline_px=outline.outline_px,
            face_length_mm=told_mm,
            bulge_mm=setup.club.bulge_mm,
            seen=seen,
        )
    except ScaleError as err:
        return [_refused("scale", err)]
    px_per_mm = 1.0 / scale.mm_per_px(outline.outline_px.mean(axis=0))
    found = [
        _scale_finding(scale),
        check_tilt(scale),
        check_size(px_per_mm),
        check_sharpness(photo, [outline.outline_px, *footprints], px_per_mm, printed=scale.pose_known),
    ]
    try:
        face = find_face(photo, scale, outline, setup)
    except FaceError as err:  # a told hand mends it
        found.append(Finding(what="toe side", grade=Grade.FAIR, says=str(err), remedy=err.remedy))
        return found
    try:
        check_face_size(face)
    except ScaleError as err:
        return [_refused("scale", err)]
    return [*found, check_glare(rectify(photo.pixels, face.frame, face.outline_mm))]


def _scale_finding(scale: Scale) -> Finding:
    says = f"{scale.kind.value} found, the scale is known to {100 * 1.96 * scale.scale_err_frac:.1f} %"
    if scale.scale_err_frac <= FAIR_SCALE_ERR_FRAC:
        return Finding(what="scale", grade=Grade.GOOD, says=says)
    remedy = "Hold the printed card, tags or an ID-1 card in the plane of the face."
    return Finding(what="scale", grade=Grade.FAIR, says=says, remedy=remedy)


def _refused(what: str, err: FacemarkError) -> Finding:
    return Finding(what=what, grade=Grade.BAD, says=str(err), remedy=err.remedy)
