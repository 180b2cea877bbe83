"""How much the page takes: one home for its limits. All assumed, with room for 50 phones at one desk."""

from __future__ import annotations

MAX_UPLOAD_BYTES = 30_000_000  # a phone's HEIC has 2 to 5 MB, a 50 MP JPEG 20 MB
MAX_PHOTO_MPX = 50.0
MAX_JSON_BYTES = 200_000  # 200 edits with one long outline are a tenth of it
BODY_S = 30.0  # without a further byte of a body, then it is given up
MAX_KEPT_UPLOADS = 80  # photos in the temporary folder at once
MAX_KEPT_BYTES = 800_000_000
KEPT_S = 4 * 3600.0  # an afternoon on the range
MAX_WAITING = 64  # photos in the queue; the next is told to come back
UPLOADS_PER_MINUTE = 120
N_READERS = 2  # photos read at a time
READ_S = 60.0  # per photo, then its process is ended; a slow laptop needs 10
SERIES_PHOTO_S = 30.0  # more for each further photo of a series
START_S = 120.0  # for a reading process to come up on a machine under load
READER_BYTES = 4_000_000_000  # address space of a reading process
MAX_SERIES = 20
PICTURE_PX = 2560  # long side of the picture sent to the phone: three screens wide
PICTURE_QUALITY = 85
LONG_POLL_S = 20.0
# Only what phones and their chats make; everything else Pillow knows is refused unopened.
FORMATS = ("JPEG", "MPO", "PNG", "WEBP", "HEIF", "AVIF")
