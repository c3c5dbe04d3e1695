"""What a file is, by its first bytes; what a person or a browser calls it is not believed."""

from __future__ import annotations

SHOWN = frozenset({"image/jpeg", "image/png", "image/webp", "image/gif"})
"""What a page may show as it is; none of these can hold a script that a browser would run."""
OTHER = "application/octet-stream"

_SIGNS = (
    (b"\xff\xd8\xff", "image/jpeg"),
    (b"\x89PNG\r\n\x1a\n", "image/png"),
    (b"GIF87a", "image/gif"),
    (b"GIF89a", "image/gif"),
    (b"%PDF-", "application/pdf"),
    (b"II*\0", "image/tiff"),
    (b"MM\0*", "image/tiff"),
    (b"\x93NUMPY", "application/x-npy"),
    (b"PK\x03\x04", "application/zip"),
)


def media_type_of(head: bytes) -> str:
    """
    The media type.

    Args:
        head: The first bytes, a few hundred at least where there are as many.

    >>> media_type_of(b"<svg onload='x()'>"), media_type_of(bytes([255, 216, 255, 224]))
    ('text/plain', 'image/jpeg')
    """
    for sign, kind in _SIGNS:
        if head.startswith(sign):
            return kind
    if head[:4] == b"RIFF" and head[8:12] in (b"WEBP", b"WAVE"):
        return "image/webp" if head[8:12] == b"WEBP" else "audio/wav"
    if b"\0" in head:
        return OTHER
    try:
        head.decode("utf-8")
    except UnicodeDecodeError as error:
        return "text/plain" if error.start > len(head) - 4 else OTHER
    return "text/plain"
