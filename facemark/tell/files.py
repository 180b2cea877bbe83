"""Photos in, reports out: the only place that opens and writes files of the user's.

Pillow opens every photo (it refuses truncated files and pixel bombs, where OpenCV decodes both without a
word); pi-heif adds HEIC. A whole JPEG is then decoded by OpenCV: the same pixels without copying them thrice.
Nothing half-written is left behind: files are written under a temporary name in the same folder and then
renamed.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import os
import re
import tempfile
import warnings
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image, ImageOps, UnidentifiedImageError

from facemark.errors import BookError, PhotoError
from facemark.inputs import Photo

MAX_PHOTO_MPX = 64.0  # 50 MP is the largest phone photo in use; assumed, with room
MIN_PHOTO_MPX = 0.25  # a 640 x 480 copy has 0.3; below it a mark is a handful of pixels
MAX_FILE_MB = 120.0  # a 16-bit PNG of 50 MP may reach 100 MB; assumed

_EXIF_IFD = 0x8769
_EXIF_FOCAL_35MM = 0xA405
_EXIF_TAKEN = 0x9003

# OpenCV's flip for each EXIF orientation, once 5 to 8 are transposed: 1 sideways, 0 upside down, -1 both.
_FLIPS = {2: 1, 3: -1, 4: 0, 6: 1, 7: -1, 8: 0}
# The first marker in a JPEG's data that is no stuffing, restart, table or further scan (ITU-T T.81, B.1.1).
_JPEG_DATA_ENDS = re.compile(rb"\xff[^\x00\xc4\xd0-\xd7\xda\xff]")

# Pillow's own guard, set to our limit, stops a bomb while only the header has been read.
Image.MAX_IMAGE_PIXELS = int(MAX_PHOTO_MPX * 1e6)


def load(
    path: str | os.PathLike[str],
    *,
    name: str | None = None,
    max_mpx: float = MAX_PHOTO_MPX,
    formats: Sequence[str] | None = None,
) -> Photo:
    """Read a photo: JPEG, PNG, WebP, HEIC/HEIF, TIFF and what else Pillow knows.

    Parameters
    ----------
    path : path of the file. It is never changed.
    name : what to call the photo; by default the file's name.
    max_mpx : a larger photo is refused before it is decoded; never more than ``MAX_PHOTO_MPX``.
    formats : the only kinds of picture to try, by content, in Pillow's names; default all it knows.

    Returns
    -------
    Photo
        Upright (EXIF orientation applied), 8-bit RGB whatever the file held.

    Raises
    ------
    PhotoError
        Missing, a folder, empty, not a picture, cut short, too large or too small.
    """
    path = Path(path)
    name = path.name if name is None else name
    max_mpx = min(max_mpx, MAX_PHOTO_MPX)
    _check_file(path)
    try:
        with warnings.catch_warnings():
            # A bomb between one and two times the limit is only a warning in Pillow; for us it is too large.
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            warnings.simplefilter("ignore", UserWarning)  # damaged EXIF: the picture is what counts
            with _open(path, formats) as image:
                _check_size(image, name, max_mpx)
                taken, focal = _exif(image)
                pixels = _upright(image, path)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise PhotoError(
            f"{name} is larger than {max_mpx:.0f} megapixels",
            remedy="Send the photo as the phone's camera took it, or a smaller copy.",
        ) from None
    except UnidentifiedImageError:
        raise PhotoError(
            f"{name} is not a picture that can be read (JPEG, PNG, WebP or HEIC expected)",
            remedy="Export the photo as JPEG and try again.",
        ) from None
    except (PhotoError, MemoryError):
        raise
    except Exception as err:  # decoders of damaged files raise whatever they like
        raise PhotoError(
            f"{name} is damaged or cut short ({str(err)[:80]})",
            remedy="Copy the photo from the phone again; the download may have been interrupted.",
        ) from None
    return Photo(pixels=pixels, name=name, taken=taken, focal_35mm=focal)


def taken_on(path: str | os.PathLike[str]) -> dt.datetime | None:
    """When a photo was taken, from its header alone; None where it does not say or is no photo."""
    try:
        with _header(Path(path)) as image:
            return _exif(image)[0]
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError):
        return None


def grey_copy(path: str | os.PathLike[str], *, long_px: int) -> NDArray[np.uint8] | None:
    """A grey copy of a photo, as cheaply as its format allows; None if it cannot be read (``load`` says why).

    Parameters
    ----------
    path : path of the file
    long_px : int
        Long side that is enough; a JPEG is then decoded at a half or a quarter. 0: full size.

    Returns
    -------
    (H, W) uint8
        As the file holds it: the EXIF orientation is not applied.
    """
    try:
        with _header(Path(path)) as image:
            _check_size(image, Path(path).name, MAX_PHOTO_MPX)
            if long_px:
                image.draft("L", (long_px, long_px))
            return np.asarray(image.convert("L"))
    except (PhotoError, OSError, SyntaxError, ValueError, Image.DecompressionBombError):
        return None


def _header(path: Path) -> Image.Image:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # looked into, not decoded
        return _open(path, None)


def _check_file(path: Path) -> None:
    try:
        if path.is_dir():
            raise PhotoError(
                f"{path} is a folder, one photo was expected", remedy="Name one photo in that folder."
            )
        size = path.stat().st_size
    except PermissionError:
        raise PhotoError(f"{path} may not be read", remedy="Check the file's permissions.") from None
    except OSError:  # missing, a loop of links, a name too long
        raise PhotoError(
            f"there is no file {path}", remedy="Check the name, or drag the photo into the terminal."
        ) from None
    if size == 0:
        raise PhotoError(f"{path.name} is empty", remedy="Copy the photo from the phone again.")
    if size > MAX_FILE_MB * 1e6:
        raise PhotoError(
            f"{path.name} has {size / 1e6:.0f} MB, at most {MAX_FILE_MB:.0f} MB are read",
            remedy="Send the photo as JPEG or HEIC.",
        )


def _open(path: Path, formats: Sequence[str] | None) -> Image.Image:
    with path.open("rb") as file:
        head = file.read(16)
    if head[4:8] == b"ftyp" and head[8:12] not in (b"avif", b"avis"):
        import pi_heif

        from facemark.tell.heif_guard import names_are_text

        if not names_are_text(path.read_bytes()):
            raise SyntaxError("its list of pictures is not readable")
        pi_heif.register_heif_opener()
    if formats is not None:
        Image.init()  # before it, Pillow knows only half of its readers
        formats = [kind for kind in formats if kind in Image.OPEN]
    return Image.open(path, formats=formats)


def _check_size(image: Image.Image, name: str, max_mpx: float) -> None:
    mpx = image.width * image.height / 1e6
    if mpx > max_mpx:
        raise Image.DecompressionBombError
    if mpx < MIN_PHOTO_MPX:
        raise PhotoError(
            f"{name} has only {image.width} x {image.height} pixels",
            remedy="Send the original photo, not a thumbnail; 1 megapixel is the least, 12 are good.",
        )


def _exif(image: Image.Image) -> tuple[dt.datetime | None, float | None]:
    """When it was taken and the 35 mm-equivalent focal length; both None where the file is silent."""
    taken, focal = None, None
    try:
        details = image.getexif().get_ifd(_EXIF_IFD)
    except Exception:  # a broken EXIF block must never cost the photo
        return None, None
    with contextlib.suppress(TypeError, ValueError, ZeroDivisionError):
        value = float(details[_EXIF_FOCAL_35MM]) if details.get(_EXIF_FOCAL_35MM) else 0.0
        focal = value if value > 0 else None
    with contextlib.suppress(KeyError, TypeError, ValueError):
        taken = dt.datetime.strptime(str(details[_EXIF_TAKEN]), "%Y:%m:%d %H:%M:%S")
    return taken, focal


def _upright(image: Image.Image, path: Path) -> NDArray[np.uint8]:
    """(H, W, 3) uint8 RGB with the EXIF orientation applied."""
    if image.format in ("JPEG", "MPO") and image.mode == "RGB":
        jpeg = path.read_bytes()
        orientation = image.getexif().get(ExifTags.Base.Orientation, 1)
        pixels = _decoded(jpeg, orientation) if _is_whole(jpeg) else None
        if pixels is not None:
            return pixels
    # Everything else, and every damaged JPEG, for Pillow to say what is wrong with it.
    ImageOps.exif_transpose(image, in_place=True)
    return _rgb8(image)


def _is_whole(jpeg: bytes) -> bool:
    """Whether the picture's data run to its end; decoders fill in what is missing with grey."""
    at = 2
    while (
        jpeg[at : at + 1] == b"\xff" and jpeg[at + 1 : at + 2] != b"\xda"
    ):  # segments before the picture's own
        at += 2 + int.from_bytes(jpeg[at + 2 : at + 4])
    marker = _JPEG_DATA_ENDS.search(jpeg, at)
    return marker is not None and marker[0] == b"\xff\xd9"


def _decoded(jpeg: bytes, orientation: int) -> NDArray[np.uint8] | None:
    """Upright pixels, or None where the decoder gives up."""
    import cv2

    way = cv2.IMREAD_COLOR_RGB | cv2.IMREAD_IGNORE_ORIENTATION
    pixels = cv2.imdecode(np.frombuffer(jpeg, np.uint8), way)
    if pixels is None:
        return None
    if orientation in (5, 6, 7, 8):
        pixels = cv2.transpose(pixels)
    if orientation in _FLIPS:
        pixels = cv2.flip(pixels, _FLIPS[orientation])
    return np.asarray(pixels, np.uint8)


def _rgb8(image: Image.Image) -> NDArray[np.uint8]:
    """Any Pillow mode as (H, W, 3) uint8."""
    if image.mode.startswith("I") or image.mode == "F":
        # convert("RGB") clips 16-bit grey to white; scale it by hand.
        grey = np.asarray(image, dtype=np.float64)
        top = 65535.0 if grey.max(initial=0.0) > 255 else 255.0
        narrow = np.clip(grey * (255.0 / top), 0, 255).astype(np.uint8)
        return np.repeat(narrow[:, :, None], 3, axis=2)
    # A photo of 12 megapixels is copied in 20 ms: once will do. Nobody else holds what asarray makes.
    return np.asarray(image if image.mode == "RGB" else image.convert("RGB"), dtype=np.uint8)


@contextlib.contextmanager
def written_whole(path: str | os.PathLike[str]) -> Iterator[Path]:
    """Give a temporary name to write to; rename it to ``path`` only when the block ends well.

    Raises
    ------
    BookError
        The folder is missing, read-only or full.
    """
    path = Path(path)
    temporary: Path | None = None
    try:
        handle, name = tempfile.mkstemp(prefix=".", suffix=path.suffix, dir=path.parent or Path())
        os.close(handle)
        temporary = Path(name)
        yield temporary
        # mkstemp makes the file private to its owner; a report is meant to be shared like any other file.
        umask = os.umask(0)
        os.umask(umask)
        temporary.chmod(0o666 & ~umask)
        temporary.replace(path)
        temporary = None
    except OSError as err:
        raise BookError(
            f"{path} could not be written ({err.strerror or err})",
            remedy="Check that the folder exists, is writable and has room.",
        ) from None
    finally:
        if temporary is not None:
            temporary.unlink(missing_ok=True)


def write_text(path: str | os.PathLike[str], text: str) -> None:
    """Write a text file whole or not at all."""
    with written_whole(path) as temporary:
        temporary.write_text(text, encoding="utf-8")


def write_picture(path: str | os.PathLike[str], pixels: NDArray[np.uint8]) -> None:
    """Write (H, W, 3) RGB as PNG, JPEG or WebP by the file's ending; no metadata of the photo goes along."""
    path = Path(path)
    formats = {".png": "PNG", ".jpg": "JPEG", ".jpeg": "JPEG", ".webp": "WEBP"}
    kind = formats.get(path.suffix.lower())
    if kind is None:
        raise BookError(
            f"{path.name}: a picture is written as .png, .jpg or .webp",
            remedy="Choose one of these endings.",
        )
    with written_whole(path) as temporary:
        Image.fromarray(pixels).save(temporary, format=kind)
