"""Photo files of every kind, made on the spot."""

import io
import struct
import zlib

import cv2
import numpy as np
from PIL import Image, ImageCms

ORIENTATION, DATE_TIME_ORIGINAL, OFFSET_ORIGINAL, EXIF_IFD = (
    0x0112,
    0x9003,
    0x9011,
    0x8769,
)


def scene(height=120, width=160):
    """Return smooth pixels with a different colour in each corner."""
    rows, cols = np.mgrid[0 : 1 : height * 1j, 0 : 1 : width * 1j]
    channels = (200 * rows + 20, 200 * cols + 20, 120 * (1 - rows) * (1 - cols) + 40)
    return np.dstack(channels).astype(np.uint8)


def exif_bytes(orientation=None, taken=None, offset=None):
    exif = Image.Exif()
    if orientation is not None:
        exif[ORIENTATION] = orientation
    if taken is not None:
        exif.get_ifd(EXIF_IFD)[DATE_TIME_ORIGINAL] = taken
    if offset is not None:
        exif.get_ifd(EXIF_IFD)[OFFSET_ORIGINAL] = offset
    return exif.tobytes()


def png_header_only(width, height):
    """Return a PNG that claims a size and holds no pixels."""

    def chunk(kind, content):
        crc = struct.pack(">I", zlib.crc32(kind + content))
        return struct.pack(">I", len(content)) + kind + content + crc

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(b""))
        + chunk(b"IEND", b"")
    )


def sixteen_bits(path, pixels):
    """Write (H, W[, 3]) RGB or grey uint8 as 16 bits: value * 257."""
    wide = pixels.astype(np.uint16) * 257
    assert cv2.imwrite(str(path), wide[..., ::-1] if wide.ndim == 3 else wide)


COLORANT_TAGS = (b"rXYZ", b"gXYZ", b"bXYZ")
DISPLAY_P3_COLORANTS = (
    (0.515121, 0.241196, -0.001053),
    (0.291977, 0.692245, 0.041885),
    (0.157104, 0.066574, 0.784073),
)
"""XYZ (D50) of red, green and blue of the Display P3 profile (from memory; they add
up to the D50 white of the ICC profile connection space, which a test checks)."""
SRGB_COLORANTS = (
    (0.436065, 0.222488, 0.013916),
    (0.385147, 0.716873, 0.097076),
    (0.143066, 0.060608, 0.714096),
)
"""The same of the sRGB profile, IEC 61966-2-1 adapted to D50 (from memory)."""


def matrix_profile(colorants, name="test profile", gamma=2.2):
    """Return a minimal ICC v2 display profile: colorants and one gamma curve."""

    def fixed(value):
        return struct.pack(">i", round(value * 65536))

    def xyz(values):
        return b"XYZ \0\0\0\0" + b"".join(fixed(value) for value in values)

    words = name.encode() + b"\0"
    about = b"desc\0\0\0\0" + struct.pack(">I", len(words)) + words + b"\0" * 78
    about += b"\0" * (-len(about) % 4)
    curve = b"curv\0\0\0\0" + struct.pack(">IHxx", 1, round(gamma * 256))
    tags = {b"desc": about, b"wtpt": xyz((0.9642, 1.0, 0.8249))}
    tags |= {k: xyz(v) for k, v in zip(COLORANT_TAGS, colorants, strict=True)}
    tags |= dict.fromkeys((b"rTRC", b"gTRC", b"bTRC"), curve)
    offset = 128 + 4 + 12 * len(tags)
    table, content = struct.pack(">I", len(tags)), b""
    for tag, value in tags.items():
        table += struct.pack(">4sII", tag, offset + len(content), len(value))
        content += value
    size = offset + len(content)
    header = struct.pack(
        ">I4xI4s4s4s12x4s", size, 0x02100000, b"mntr", b"RGB ", b"XYZ ", b"acsp"
    )
    header = header.ljust(68, b"\0") + xyz((0.9642, 1.0, 0.8249))[8:]
    profile = header.ljust(128, b"\0") + table + content
    ImageCms.ImageCmsProfile(io.BytesIO(profile))  # raises if it is malformed
    return profile
