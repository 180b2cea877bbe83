"""Is there anything to see in this photo at all?

The first look, before any search: a black, blank or hopelessly blurred picture is refused here, with what to
do, instead of failing later with a puzzling reason.
"""

from __future__ import annotations

import cv2
import numpy as np

from facemark.errors import PhotoError
from facemark.inputs import Photo

LOOK_PX = 800  # long side of the copy that is looked at
DARKEST_P99 = 35.0  # 99 % of the pixels darker than this (of 255): nothing to measure; assumed
FLATTEST_SPREAD = 4.0  # spread of grey values of a lens cap, a wall, a white page; assumed


def check_photo(photo: Photo) -> None:
    """Refuse a photo that cannot hold a face.

    Parameters
    ----------
    photo : Photo

    Raises
    ------
    PhotoError
        All dark, or all one tone.
    """
    step = max(1, max(photo.pixels.shape[:2]) // LOOK_PX)
    small = np.ascontiguousarray(photo.pixels[::step, ::step])
    grey = cv2.cvtColor(small, cv2.COLOR_RGB2GRAY)
    bright = float(np.percentile(grey, 99))
    if bright < DARKEST_P99:
        raise PhotoError(
            f"the photo is almost black (99 % of it is darker than {bright:.0f} of 255)",
            remedy="Photograph again in more light, without flash on the face.",
        )
    if float(grey.std()) < FLATTEST_SPREAD:
        raise PhotoError(
            "the photo shows one even tone and nothing else",
            remedy="Check that the lens is clear and the club is in the picture.",
        )
