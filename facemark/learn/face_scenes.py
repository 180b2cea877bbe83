"""Drawn phone photos of powdered club faces, with what is where: all that the face finder learns from.

What is drawn, and why:

* The head is a solid, cut into slices behind its face and seen by a pinhole camera (face_shapes.py has the
  shapes). Crown or sole come into view by tilt alone, as in a photo, and are lit by the same light, so the
  face's edge shows the way it really does: by shading and by a rim, not by a colour of its own.
* Powder covers the face in any thickness, grain and tint, thins out in patches, and drifts over crown and
  sole with a random reach: the border of the white area is not the border of the face.
* Marks (none to fourteen) bare the metal, dark or bright, so the face has holes as dark as its surroundings;
  dimples, rims, score lines and graphics are in it.
* The hosel leaves at the heel with a lie of 54 to 66 degrees and hides part of an iron's heel; roll, tilt,
  both hands and upside-down views teach which way the toe lies.
* White sheets with square tags, cards, balls, limbs, towels and clutter of any colour lie about: being white,
  rounded or textured must not be enough to be a face.
* Grass in front of the sole, fingers over the edge, shadows and glare hide parts. The labels stay whole: an
  outline goes on behind a blade of grass.
* Half the scenes show the whole photo (face 13 to 60 % of its length), half the close crop of the second look
  (50 to 85 % of its width), so one network does both.
* Some scenes have no club at all, many of those a white speckled thing in its place (face_decoy.py).
* Some heads were never sprayed: a face is found by its shape too.

Everything is batched torch on one device; n scenes come from one seeded generator. Colours are linear light
until face_lens.py turns them into a photo. Ranges are assumed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import torch
from torch import Tensor

from facemark.learn import face_decoy, face_lens, face_props, face_scales
from facemark.learn.face_bank import Bank, sample
from facemark.learn.face_light import Light, bumps, draw_light, smoothstep
from facemark.learn.face_shapes import Heads, SceneDice, body_slice, draw_heads, signed_mm
from facemark.learn.face_view import View, aim

# Channels of the labels. Toe and up: unit vectors in the picture. (Whether a head was sprayed and how it is
# tilted were taught once and not learned.)
MAPS = ("face", "head", "shaft", "edge", "scale", "toe_x", "toe_y", "up_x", "up_y")
N_SLICES = 15
EDGE_SD_PX = 1.3  # the edge label is a Gaussian of the distance to the outline
NO_CLUB_FRAC = 0.10
BARE_FRAC = 0.08  # of the heads: never sprayed
COATED_FRAC = 0.3  # of the heads: sprayed all over, crown and sole as thick as the face
NEAR_EDGE_FRAC = 0.2  # of the faces: prints gather at the top or bottom edge


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenes:
    """``pictures`` (n, 3, H, W) in 0..1, display-coded; ``maps`` (n, 9, H, W), channels as in MAPS."""

    pictures: Tensor
    maps: Tensor
    toe_px: Tensor  # (n, 2) unit vector of the toe axis in the picture, y down
    up_px: Tensor
    is_close: Tensor  # (n, 1, 1) 1 for second-look crops


@dataclass(frozen=True, slots=True, kw_only=True)
class _Body:
    """What the rays meet. All (n, H, W): ``seen`` 1 on the head, ``face`` 1 on its face, depth behind it."""

    seen: Tensor
    face: Tensor
    edge_px: Tensor  # signed distance to the face's outline in pixels
    depth_mm: Tensor
    toe_mm: Tensor
    up_mm: Tensor
    beside_mm: Tensor  # distance from the face's outline, over the surface
    normal: tuple[Tensor, Tensor, Tensor]  # toe, up, out


def draw_scenes(n: int, size_px: tuple[int, int], bank: Bank, generator: torch.Generator) -> Scenes:
    """Draw ``n`` scenes of (height, width) ``size_px``."""
    dice = SceneDice(n, generator)
    heads = draw_heads(dice)
    view = aim(dice, heads, size_px)
    light = draw_light(dice)
    body = _meet(view, heads)
    club = 1 - dice.chance(NO_CLUB_FRAC)
    shaft = face_props.draw_shaft(dice, view, heads, light, body.depth_mm, body.seen)
    seen, hosel = body.seen * club, shaft.cover * club
    picture = face_props.draw_background(dice, view, bank)
    picture = face_props.draw_shadow(dice, view, picture, torch.maximum(seen, hosel))
    picture, scale = face_scales.draw_scale_objects(dice, view, heads, light, picture)
    noise = _face_noise(dice, view, bank, body)
    sprayed = 1 - dice.chance(BARE_FRAC)
    surface = _draw_head(dice, view, heads, light, body, noise, sprayed)
    picture = torch.lerp(picture, surface, seen.unsqueeze(1))
    picture = torch.lerp(picture, shaft.colour, hosel.unsqueeze(1))
    decoy = face_decoy.draw_decoy(dice, view, bank, picture)
    picture = torch.lerp(decoy, picture, club.unsqueeze(1))
    picture = face_props.draw_front(dice, view, heads, bank, picture, club)
    picture = face_lens.photograph(dice, view, bank, picture, torch.maximum(seen, hosel))
    bars = face_lens.open_area(dice, view).unsqueeze(1)
    face = (body.edge_px < 0).float() * club
    edge = torch.exp(-0.5 * (body.edge_px / EDGE_SD_PX) ** 2) * club
    free = 1 - torch.maximum(seen, hosel)
    inside = torch.cat([view.toe_px, view.up_px], 1).unbind(1)
    maps = [
        face,
        torch.maximum(face, seen),
        hosel,
        edge,
        scale * free,
        *[c.view(-1, 1, 1) * face for c in inside],
    ]
    return Scenes(
        pictures=0.5 + (picture - 0.5) * bars,
        maps=torch.stack(maps, 1) * bars,
        toe_px=view.toe_px,
        up_px=view.up_px,
        is_close=view.is_close,
    )


def _meet(view: View, heads: Heads) -> _Body:
    """Follow every ray to the first slice of the head it meets, front to back."""
    toe, up = view.at_depth(0.0)
    signed = signed_mm(heads, toe, up)
    gradient = torch.hypot(torch.gradient(signed, dim=1)[0], torch.gradient(signed, dim=2)[0])
    edge_px = signed / gradient.clamp_min(1e-4)
    hit = (signed < 0).float()
    nearest_px, before = signed / view.mm_per_px, signed
    depth, beside, slope = torch.zeros_like(signed), torch.zeros_like(signed), torch.zeros_like(signed)
    hit_toe, hit_up, centre_up = toe, up, torch.zeros_like(signed)
    last_depth = torch.zeros_like(heads.depth_mm)
    for k in range(1, N_SLICES + 1):
        u = (k / N_SLICES) ** 2.6  # thin slices at the rim, where the outline changes fastest
        slice_depth = heads.depth_mm * u
        scale_x, scale_y, shift, grow = body_slice(heads, u)
        toe_k, up_k = view.at_depth(slice_depth)
        toe_in, up_in = toe_k / scale_x, (up_k - shift) / scale_y
        signed_k = signed_mm(heads, toe_in, up_in) * torch.minimum(scale_x, scale_y) - grow
        part = (before / (before - signed_k).clamp_min(1e-3)).clamp(0, 1)
        new = (signed_k < 0).float() * (1 - hit)
        depth = depth + new * (last_depth + part * (slice_depth - last_depth))
        # How fast the body widens along the ray tells how its surface leans.
        slope = slope + new * ((before - signed_k) / (slice_depth - last_depth).clamp_min(1e-2))
        hit_toe = torch.lerp(hit_toe, toe_k, new)
        hit_up = torch.lerp(hit_up, up_k, new)
        centre_up = torch.lerp(centre_up, shift.expand_as(new), new)
        hit = hit + new
        nearest_px = torch.minimum(nearest_px, signed_k / view.mm_per_px)
        before, last_depth = signed_k, slice_depth
    face = (signed < 0).float()
    beside = torch.hypot(signed.clamp_min(0), depth) * (1 - face)
    radial = torch.hypot(hit_toe, hit_up - centre_up).clamp_min(1e-3)
    lean = slope.clamp(-1.5, 8) * (1 - face)
    flat = view.bulge_per_mm * face
    normal_toe = torch.where(face > 0, hit_toe * flat, hit_toe / radial)
    normal_up = torch.where(face > 0, hit_up * flat, (hit_up - centre_up) / radial)
    normal_out = torch.where(face > 0, torch.ones_like(face), lean)
    length = torch.sqrt(normal_toe**2 + normal_up**2 + normal_out**2).clamp_min(1e-3)
    return _Body(
        seen=torch.maximum((0.5 - nearest_px).clamp(0, 1), (0.5 - edge_px).clamp(0, 1)),
        face=(0.5 - edge_px).clamp(0, 1),
        edge_px=edge_px,
        depth_mm=depth,
        toe_mm=hit_toe,
        up_mm=hit_up,
        beside_mm=beside,
        normal=(normal_toe / length, normal_up / length, normal_out / length),
    )


def _face_noise(dice: SceneDice, view: View, bank: Bank, body: _Body) -> Tensor:
    """(n, 6, H, W) noise fixed to the head: rough, middle, smooth at grain scale, then four times larger."""
    index = dice.pick(*[1.0] * len(bank.noise))
    grain_mm = dice.log_uniform(0.12, 0.5)
    size_mm = grain_mm * bank.noise.shape[-1]
    x, y = (
        body.toe_mm / size_mm + dice.uniform(0, 1),
        (body.up_mm + body.depth_mm) / size_mm + dice.uniform(0, 1),
    )
    fine = sample(bank.noise, index, x, y)
    # A grain smaller than a pixel averages out.
    fine = fine * torch.stack([(grain_mm / view.mm_per_px).clamp_max(1), *[torch.ones_like(grain_mm)] * 2], 1)
    return torch.cat([fine, sample(bank.noise, index, y / 4 + 0.37, x / 4 + 0.11)], 1)


def _draw_head(
    dice: SceneDice,
    view: View,
    heads: Heads,
    light: Light,
    body: _Body,
    noise: Tensor,
    sprayed: Tensor,
) -> Tensor:
    """(n, 3, H, W) linear colour of the whole head."""
    bare = _bare(dice, view, heads, light, body, noise)
    cover, tint = _powder(dice, view, heads, body, noise)
    cover, dark = _marked(dice, view, heads, body, noise, cover * sprayed)
    cover, dark = _scored(dice, view, heads, body, cover) * sprayed, dark * sprayed
    lit = light.matt(view, body.normal)
    relief = 1 + dice.uniform(0, 0.12) * noise[:, 0] + dice.uniform(0, 0.06) * noise[:, 1]
    powder = tint * lit * (relief.clamp_min(0.2) * (1 - dark)).unsqueeze(1)
    colour = torch.lerp(bare, powder, cover.unsqueeze(1))
    # Rim of the face: a thin chamfer that catches the light or stays dark; often none.
    width = dice.uniform(0.5, 2.0)
    rim = torch.exp(-((body.edge_px / width) ** 2)) * dice.uniform(0.1, 0.8) * dice.chance(0.35)
    tone = dice.uniform(0, 1.0, 1, 1, 1) * dice.chance(0.5, 1, 1, 1) * lit.mean((2, 3), keepdim=True)
    colour = torch.lerp(colour, tone.expand_as(colour), rim.unsqueeze(1))
    # Glare of a low sun on the powder or the bare metal of the face.
    glare = light.glare(view, body.normal) * body.face * dice.uniform(0, 1.2) * dice.chance(0.2)
    return colour + glare.unsqueeze(1)


def _bare(dice: SceneDice, view: View, heads: Heads, light: Light, body: _Body, noise: Tensor) -> Tensor:
    """Paint on crown and sole, metal on the face, before any powder."""
    dark = dice.uniform(0.005, 0.08, 1, 1, 1) * torch.ones(1, 3, 1, 1, device=dice.device)
    crown = torch.where(dice.chance(0.5, 1, 1, 1) > 0, dark, dice.colour())
    sole = torch.where(dice.chance(0.5, 1, 1, 1) > 0, crown, dice.colour(saturation=0.6))
    metal = torch.where(
        dice.chance(0.6, 1, 1, 1) > 0, dice.uniform(0.01, 0.12, 1, 1, 1), dice.uniform(0.1, 0.5, 1, 1, 1)
    )
    metal = metal * dice.uniform(0.9, 1.08, 3, 1, 1)
    iron = heads.is_iron.unsqueeze(1) * dice.chance(0.85, 1, 1, 1)
    crown, sole = torch.lerp(crown, metal, iron), torch.lerp(sole, metal, iron)
    upper = torch.sigmoid((body.up_mm - heads.bottom_mm * dice.uniform(-0.3, 0.6)) * 2).unsqueeze(1)
    paint = torch.lerp(sole.expand(-1, -1, *upper.shape[2:]), crown.expand(-1, -1, *upper.shape[2:]), upper)
    weave = torch.sin(body.toe_mm * 2.4) * torch.sin((body.up_mm + body.depth_mm) * 2.4)
    weave = weave * (0.6 / view.mm_per_px).clamp_max(1) * dice.uniform(0, 0.6) * dice.chance(0.25)
    band = torch.sin(body.toe_mm * dice.uniform(0.05, 0.4) + body.depth_mm * dice.uniform(-0.3, 0.3))
    band = smoothstep((band - dice.uniform(0.4, 1.2)) * 8) * dice.chance(0.35)
    paint = torch.lerp(paint, dice.colour().expand_as(paint), band.unsqueeze(1))
    paint = paint * (1 + weave + 0.05 * noise[:, 1]).clamp_min(0.1).unsqueeze(1)
    brushed = 1 + dice.uniform(0, 0.25) * noise[:, 4] + dice.uniform(0, 0.2) * noise[:, 0]
    front = torch.where(dice.chance(0.6, 1, 1, 1) > 0, metal, crown) * brushed.clamp_min(0.1).unsqueeze(1)
    colour = torch.lerp(paint, front, body.face.unsqueeze(1))
    gloss = torch.where(dice.chance(0.3) > 0, dice.uniform(0.0, 0.04), dice.uniform(0.03, 0.45))
    gloss = torch.lerp(gloss, dice.uniform(0.02, 0.5).expand_as(body.face), body.face)
    return light.glossy(view, body.normal, colour, gloss)


def _powder(dice: SceneDice, view: View, heads: Heads, body: _Body, noise: Tensor) -> tuple[Tensor, Tensor]:
    """Cover (n, H, W) of the powder everywhere on the head, and its tint (n, 3, 1, 1)."""
    thick = torch.where(dice.chance(0.75) > 0, dice.uniform(0.9, 3.5), dice.uniform(-0.5, 1.0))
    uneven = dice.uniform(0.1, 1.0) * noise[:, 2] + dice.uniform(0, 0.8) * noise[:, 4]
    uneven = uneven + dice.uniform(0, 0.8) * noise[:, 5]
    # Sprayed from one spot: thinner far from it. Mostly wide enough to cover everything.
    spot = torch.hypot(
        body.toe_mm - dice.normal(0, 0.15) * heads.length_mm, body.up_mm - dice.normal(0, 5)
    ) / (heads.length_mm * torch.where(dice.chance(0.75) > 0, dice.uniform(0.9, 4), dice.uniform(0.35, 0.8)))
    level = thick + uneven - 2.5 * spot**2
    coated = dice.chance(COATED_FRAC)
    reach = torch.where(coated > 0, dice.log_uniform(30, 200), dice.log_uniform(0.6, 35))
    thinner = dice.uniform(0.0, 1.5) * (1 - coated * dice.uniform(0.7, 1.0))
    outside = (1 - body.face) * (thinner + 3.0 * body.beside_mm / reach)
    speck = dice.uniform(0.2, 2.0) * noise[:, 0] + dice.uniform(0, 0.6) * noise[:, 1]
    # A grain is there or not; thin powder shows as specks, thick powder closes.
    crisp = dice.uniform(1.0, 4.0)
    cover = torch.sigmoid(
        crisp * (level - outside + speck * (0.4 + 0.6 * smoothstep(outside)))
    ) * dice.uniform(0.75, 1)
    cover = cover * smoothstep(2.0 - body.beside_mm / (reach * 1.6))
    drip = smoothstep((noise[:, 3] * 0.5 + torch.sin(body.toe_mm * dice.uniform(0.1, 0.5)) - 1.1) * 4)
    cover = cover * (1 - 0.6 * drip * dice.chance(0.08))
    white = dice.uniform(0.45, 0.95, 1, 1, 1)
    warm = 1 + dice.normal(0, 0.03, 3, 1, 1) + dice.normal(0, 0.12, 3, 1, 1) * dice.chance(0.15, 1, 1, 1)
    return cover, (white * warm).clamp(0.05, 1)


def _marked(
    dice: SceneDice, view: View, heads: Heads, body: _Body, noise: Tensor, cover: Tensor
) -> tuple[Tensor, Tensor]:
    """Powder left after the balls, and the darkening of transfer marks (n, H, W)."""
    n_marks = (dice.uniform(0, 1) ** 1.3 * 15).floor() * dice.chance(0.92)
    # Height of the drawn face at its middle is what marks spread over; they gather round one or two points.
    height = heads.top_mm - heads.bottom_mm
    away = dice.chance(NEAR_EDGE_FRAC) * dice.uniform(0.25, 0.5) * (2 * dice.chance(0.7) - 1)
    middle = [
        (dice.normal(0, 0.13) * heads.length_mm, (dice.normal(0, 0.14) + away) * height) for _ in range(2)
    ]
    spread, two = dice.log_uniform(2, 16), dice.chance(0.3)
    ragged, soft = dice.log_uniform(0.05, 1.4), dice.log_uniform(0.25, 2.0)
    size = dice.uniform(7.0, 13.5)
    gone = torch.where(dice.chance(0.7) > 0, dice.uniform(0.8, 1.0), dice.uniform(0.3, 0.8))
    wave = (noise[:, 1] + noise[:, 3]) * ragged * 0.7
    bared, ring = torch.zeros_like(cover), torch.zeros_like(cover)
    for k in range(14):
        other = two * dice.chance(0.5)
        toe = torch.lerp(middle[0][0], middle[1][0], other) + dice.normal(0, 1) * spread
        up = torch.lerp(middle[0][1], middle[1][1], other) + dice.normal(0, 0.75) * spread
        stretch = dice.uniform(0.85, 1.18)
        away = torch.hypot((body.toe_mm - toe) * stretch, (body.up_mm - up) / stretch)
        inner = size * dice.uniform(0.85, 1.12) - away + wave
        mark = smoothstep(inner / soft + 0.5) * dice.uniform(0.6, 1.0) * (n_marks > k)
        bared = torch.maximum(bared, mark)
        ring = torch.maximum(ring, torch.exp(-((inner / 0.8) ** 2)) * (n_marks > k))
    dots = bumps(body.toe_mm, body.up_mm, dice.uniform(2.6, 4.2), dice.uniform(0, math.pi))
    dots = dots * (1.3 / view.mm_per_px).clamp_max(1)
    keep = smoothstep((dots - dice.uniform(0.1, 0.7)) * 4) * dice.uniform(0, 1) * dice.chance(0.35)
    bared = bared * (1 - keep) * (1 - dice.uniform(0, 0.5) * smoothstep(noise[:, 0])) * body.face
    transfer = dice.chance(0.15)  # ink or dirt instead of lost powder
    dark = bared * transfer * dice.uniform(0.4, 0.95)
    cover = cover * (1 - bared * gone * (1 - transfer))
    return (cover + ring * 0.4 * dice.chance(0.3) * body.face * (1 - bared)).clamp(0, 1), dark


def _scored(dice: SceneDice, view: View, heads: Heads, body: _Body, cover: Tensor) -> Tensor:
    """Score lines keep their powder inside marks, or lack it elsewhere; a graphic now and then."""
    pitch = dice.uniform(2.8, 6.5)
    phase = ((body.up_mm + dice.uniform(0, 1) * pitch) / pitch) % 1
    half = dice.uniform(0.3, 0.6) / pitch
    soft = (view.mm_per_px / pitch).clamp_min(0.02)
    line = torch.sigmoid((half - (phase - 0.5).abs()) / (0.35 * soft))
    far = (body.toe_mm + dice.normal(0, 2)).abs() / heads.length_mm
    end = dice.uniform(0.2, 0.46)
    full, sides = (far < end).float(), ((far < end) & (far > end * dice.uniform(0.3, 0.7))).float()
    kind = dice.pick(3.0, 3.0, 3.0)
    where = torch.where(kind == 0, full, torch.where(kind == 1, sides, torch.zeros_like(full)))
    line = line * where * body.face * dice.uniform(0.2, 1.0)
    keeps = dice.chance(0.6)
    cover = torch.where(keeps > 0, torch.maximum(cover, 0.85 * line), cover * (1 - 0.8 * line))
    a, b = body.toe_mm - dice.normal(0, 10), body.up_mm - dice.normal(0, 6)
    wide, tall = dice.log_uniform(1, 16), dice.log_uniform(1, 8)
    box = torch.maximum(a.abs() / wide, b.abs() / tall)
    disc = torch.hypot(a, b) / tall
    shape = torch.where(dice.chance(0.5) > 0, box, disc)
    hollow = torch.where(dice.chance(0.4) > 0, (shape - 0.85).abs() / 0.15, shape)
    graphic = (hollow < 1).float() * body.face * dice.chance(0.15) * dice.uniform(0.2, 0.9)
    return cover * (1 - graphic)
