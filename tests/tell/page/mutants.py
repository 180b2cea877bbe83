"""Photos as an attacker or a bad cable sends them: bytes flipped, cut, doubled, headers that lie."""

from __future__ import annotations

import io
import random
from collections.abc import Iterator

import numpy as np
from PIL import Image

KINDS = ("JPEG", "PNG", "WEBP", "AVIF")
SIZE = (720, 540)


def seeds() -> list[bytes]:
    """Small pictures of every kind that can be made here; HEIC comes from the fixtures."""
    grain = np.random.default_rng(7).integers(0, 255, (SIZE[1] // 9, SIZE[0] // 9, 3), dtype=np.uint8)
    image = Image.fromarray(grain).resize(SIZE, Image.Resampling.BICUBIC)
    found = []
    for kind in KINDS:
        out = io.BytesIO()
        image.save(out, format=kind, quality=70)
        found.append(out.getvalue())
    turned = io.BytesIO()
    exif = Image.Exif()
    exif[0x0112] = 6  # orientation: a quarter turn
    image.save(turned, format="JPEG", exif=exif, progressive=True)
    found.append(turned.getvalue())
    return found


def mutants(originals: list[bytes], n: int, seed: int) -> Iterator[bytes]:
    """``n`` damaged files, the same for the same seed."""
    dice = random.Random(seed)
    for _ in range(n):
        data = bytearray(dice.choice(originals))
        for _ in range(dice.choice((1, 1, 2, 4, 16))):
            _damage(data, dice)
        yield bytes(data)


def _damage(data: bytearray, dice: random.Random) -> None:
    if not data:
        return
    # Headers are short and decide everything: half of the damage goes there.
    reach = min(len(data), 600) if dice.random() < 0.5 else len(data)
    at = dice.randrange(reach)
    way = dice.randrange(7)
    if way == 0:
        data[at] ^= 1 << dice.randrange(8)
    elif way == 1:
        data[at] = dice.choice((0, 1, 0x7F, 0x80, 0xFE, 0xFF))
    elif way == 2:
        del data[at:]
    elif way == 3:
        del data[at : at + dice.randrange(1, 64)]
    elif way == 4:
        data[at:at] = data[at : at + dice.randrange(1, 4096)]
    elif way == 5:
        data[at:at] = bytes(dice.randrange(256) for _ in range(dice.randrange(1, 32)))
    else:  # a size that is a lie
        data[at : at + 4] = dice.choice((0, 1, 0xFFFF, 0x7FFFFFFF, 0xFFFFFFFF)).to_bytes(4, "big")
