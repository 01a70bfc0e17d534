"""Which files a journal may show as photos.

A path may come from somebody else's journal: only an ordinary file of this machine that is a
picture by name and by its first bytes is shown, whatever else the user may read.
"""

from __future__ import annotations

import os
from pathlib import Path

from routefinder import files
from routefinder.errors import InputError

# first bytes: PNG (ISO/IEC 15948), JPEG (ISO/IEC 10918), GIF89a, RIFF (WebP, RFC 9649), TIFF 6.0;
# HEIF and AVIF (ISO/IEC 14496-12) say "ftyp" from the fifth byte on
STARTS = (b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff", b"GIF8", b"RIFF", b"II*\x00", b"MM\x00*")
ENDINGS = (".png", ".jpg", ".jpeg", ".gif", ".webp", ".tif", ".tiff", ".heic", ".heif", ".avif")


def is_picture(path: str | Path) -> bool:
    """Whether a file of this machine is there, can be read and is a picture."""
    text = str(path)
    if text.startswith(("//", "\\\\")) or Path(text).suffix.lower() not in ENDINGS:
        return False  # another machine's share, or no picture by its name
    try:
        handle = files.open_ordinary(Path(text))
        try:
            first = os.read(handle, 12)
        finally:
            os.close(handle)
    except (OSError, ValueError):
        return False
    return first.startswith(STARTS) or first[4:8] == b"ftyp"


def need_picture(path: Path) -> None:
    """Raise InputError when a file is not there or is no picture."""
    if not path.is_file():
        raise InputError(f"{path}: there is no such file")
    if not is_picture(path):
        raise InputError(
            f"{path}: this is no picture that can be read; a photo ends in {', '.join(ENDINGS)}"
        )
