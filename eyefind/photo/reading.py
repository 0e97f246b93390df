"""From a file to an upright sRGB photo, or to words that say why not."""

import hashlib
import io
import re
import warnings
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path

import numpy as np
from PIL import ExifTags, Image, ImageCms, ImageOps, UnidentifiedImageError

from eyefind.data import Photo, Pixels
from eyefind.errors import PhotoError
from eyefind.photo.set_names import SUFFIXES, main_of

MOST_PX = 100_000_000
"""Larger pictures are refused before they are decoded: 100 MP take 300 MB."""

LEAST_SIDE_PX = 100
"""No clump can be read from less."""

BEHIND_ALPHA = (119, 119, 119)
"""What shows through transparent pixels: grey of L* 50, neither dark nor glare."""

FORMATS = ("JPEG", "PNG", "TIFF", "WEBP")
ONE_PHOTO_FORMATS = ("MPO", "HEIF")
"""Phones put depth, gain maps and thumbnails behind the photo: not an animation."""

OWN_PICTURE = re.compile(r"\.(eyefind|truth)\b", re.IGNORECASE)
"""``NAME.eyefind-sheet.png``, ``NAME.truth.png`` ...: written by us, not photos."""


def find_photos(paths: Iterable[Path]) -> list[Path]:
    """List the photos that the grower named, folders opened.

    Parameters
    ----------
    paths : iterable of Path
        Files, which are taken as they are, and folders, of which the photos are
        taken (by their ending; not those of folders inside; neither hidden files,
        nor pictures that eyefind wrote, nor the further frames of a lamp set).

    Returns
    -------
    list of Path
        Each photo once, in the order of `paths` and by name within a folder. A file
        that does not exist stays in: `read_photo` says so when its turn comes.

    Raises
    ------
    PhotoError
        If a folder cannot be opened or holds no photo.
    """
    found: dict[Path, None] = {}
    for path in paths:
        found.update(dict.fromkeys(_in_folder(path) if path.is_dir() else [path]))
    return list(found)


def _in_folder(folder: Path) -> list[Path]:
    try:
        names = sorted(folder.iterdir())
    except OSError as error:
        raise PhotoError(
            f"The folder {folder} cannot be opened: {error.strerror}.",
            "Check that you may read it, or copy the photos to a folder of yours.",
        ) from error
    photos = [
        path
        for path in names
        if path.suffix.lower() in SUFFIXES
        and not path.name.startswith(".")
        and not OWN_PICTURE.search(path.name)
        and path.is_file()
        and main_of(path) is None
    ]
    if not photos:
        raise PhotoError(
            f"The folder {folder} holds no photo.",
            f"Photos are looked for by their endings: {', '.join(SUFFIXES)}. "
            "Name the folder that they lie in.",
        )
    return photos


def read_photo(path: Path) -> Photo:
    """Read a photograph upright and in sRGB.

    Orientation (EXIF 2.3, tag 274) is applied and the embedded colour profile
    converted; a profile that cannot be read is taken for sRGB. 16-bit and grey
    pictures become 8-bit RGB; transparent pixels show the mid-grey `BEHIND_ALPHA`.
    The file is only ever read.

    Parameters
    ----------
    path : Path
        JPEG, PNG, TIFF, WebP or HEIC file; its content counts, not its ending.

    Returns
    -------
    Photo
        Its pixels are read-only.

    Raises
    ------
    PhotoError
        If there is no such file, it cannot be read, is empty, no image, damaged,
        animated, too small, too large or not in RGB or grey.
    """
    with _opened(path) as stream, warnings.catch_warnings():
        warnings.simplefilter("ignore")  # Pillow warns of oddities in the metadata
        image = _identified(stream, path)
        _check_size(image.size, path.name)
        with _damage_told(path.name):
            frames = getattr(image, "n_frames", 1)
        if frames > 1 and image.format not in ONE_PHOTO_FORMATS:
            raise PhotoError(
                f"{path.name} holds {frames} pictures (an animation or several pages).",
                "Save the one that you mean as a JPEG and use that.",
            )
        with _damage_told(path.name):
            image.load()
        # With unreadable metadata the pixels stand as they are stored.
        taken_at = None
        with suppress(Exception):
            taken_at = _taken_at(image)
            ImageOps.exif_transpose(image, in_place=True)
        rgb = np.asarray(_to_srgb(image, path.name))
        stream.seek(0)
        sha256 = hashlib.file_digest(stream, "sha256").hexdigest()
    return Photo(rgb, path.name, sha256, taken_at)


def taken_at(path: Path) -> str | None:
    """Return the capture time of a photo, ISO 8601, without decoding its pixels.

    None where the file does not tell, or cannot be read as a photo at all.
    """
    with suppress(PhotoError), _opened(path) as stream, _damage_told(path.name):
        return _taken_at(_identified(stream, path))
    return None


def read_small(path: Path, longest_px: int) -> Pixels:
    """Read a photo upright and much reduced; a JPEG is decoded at a fraction.

    Parameters
    ----------
    path : Path
        The photo.
    longest_px : int
        Long side wanted, px.

    Returns
    -------
    (h, w, 3) uint8 array
        Its pixels.

    Raises
    ------
    PhotoError
        If it cannot be read as a photo.
    """
    with _opened(path) as stream, _damage_told(path.name):
        image = _identified(stream, path)
        image.draft("RGB", (longest_px, longest_px))
        image.thumbnail((longest_px, longest_px), Image.Resampling.BOX)
        return np.asarray(ImageOps.exif_transpose(image).convert("RGB"))


@contextmanager
def _opened(path: Path) -> Iterator[io.BufferedReader]:
    if path.is_dir():
        raise PhotoError(f"{path} is a folder, not a photo.", "Name a photo inside it.")
    try:
        stream = path.open("rb")
    except FileNotFoundError as error:
        raise PhotoError(
            f"There is no file {path}.", "Check its name and its folder."
        ) from error
    except OSError as error:
        raise PhotoError(
            f"{path} cannot be read: {error.strerror}.",
            "Check that you may read it, or copy it to a folder of yours.",
        ) from error
    with stream:
        if not stream.read(1):
            raise PhotoError(
                f"{path.name} is empty (0 bytes).",
                "Copy it from the phone or camera again.",
            )
        stream.seek(0)
        yield stream


@contextmanager
def _damage_told(name: str) -> Iterator[None]:
    # Pillow raises nearly anything on damaged files: OSError, ValueError,
    # SyntaxError, struct.error, EOFError, ... hence the wide net.
    try:
        yield
    except PhotoError:
        raise
    except MemoryError as error:
        raise PhotoError(
            f"{name} does not fit into this computer's memory.",
            "Close other programs, or make the photo smaller.",
        ) from error
    except Exception as error:
        raise PhotoError(
            f"{name} is damaged or was cut short: {error}.",
            "Copy it from the phone or camera again.",
        ) from error


def _identified(stream: io.BufferedReader, path: Path) -> Image.Image:
    formats: tuple[str, ...] = FORMATS
    if stream.read(12)[4:8] == b"ftyp":  # HEIC and its kin (ISO/IEC 14496-12)
        import pillow_heif  # slow to load and seldom needed

        pillow_heif.register_heif_opener()
        formats = (*FORMATS, "HEIF")
    stream.seek(0)
    with _damage_told(path.name):
        try:
            return Image.open(stream, formats=formats)
        except Image.DecompressionBombError as error:
            raise _too_large(path.name) from error
        except UnidentifiedImageError as error:
            raise PhotoError(
                f"{path.name} is {_other_kind(stream)}, whatever its ending says.",
                "Photos may be JPEG, PNG, TIFF, WebP or HEIC.",
            ) from error


def _other_kind(stream: io.BufferedReader) -> str:
    """Say what a file is that is none of ours."""
    stream.seek(0)
    try:
        return f"a {Image.open(stream).format} file"
    except Exception:  # of a format that we do not use anyway, or no image at all
        return "not an image"


def _check_size(size: tuple[int, int], name: str) -> None:
    width_px, height_px = size
    if width_px * height_px > MOST_PX:
        raise _too_large(f"{name} ({width_px} x {height_px} px)")
    if min(size) < LEAST_SIDE_PX:
        raise PhotoError(
            f"{name} is only {width_px} x {height_px} px.",
            f"A photo needs at least {LEAST_SIDE_PX} px a side; "
            "3000 px and more are good. Use the photo as the camera took it.",
        )


def _too_large(what: str) -> PhotoError:
    return PhotoError(
        f"{what} is larger than {MOST_PX // 1_000_000} million pixels.",
        "Set the camera to a smaller size, or save the photo at half its size.",
    )


def _taken_at(image: Image.Image) -> str | None:
    """Return DateTimeOriginal with its offset, where the file tells them."""
    exif = image.getexif().get_ifd(ExifTags.IFD.Exif)
    written = str(exif.get(ExifTags.Base.DateTimeOriginal, "")).strip("\0 ")
    offset = str(exif.get(ExifTags.Base.OffsetTimeOriginal, "")).strip("\0 ")
    try:
        moment = datetime.strptime(written, "%Y:%m:%d %H:%M:%S")
    except ValueError:
        return None
    try:
        return datetime.fromisoformat(f"{moment.isoformat()}{offset}").isoformat()
    except ValueError:
        return moment.isoformat()


def _to_srgb(image: Image.Image, name: str) -> Image.Image:
    if image.mode.startswith("I;16"):
        grey16 = np.asarray(image).astype(np.uint16)
        image = Image.fromarray(((grey16.astype(np.uint32) + 128) // 257).astype("u1"))
    elif image.mode in ("CMYK", "LAB", "HSV", "I", "F"):
        raise PhotoError(
            f"{name} stores its colours as {image.mode}, not as RGB or grey.",
            "Save it as an RGB JPEG (8 bits a channel) and use that.",
        )
    profile = image.info.get("icc_profile")
    alpha = None
    if image.has_transparency_data:
        alpha = image.convert("RGBA").getchannel("A")
    plain_mode = "L" if image.mode in ("L", "LA") else "RGB"
    if image.mode != plain_mode:
        image = image.convert(plain_mode)
    opaque = _converted(image, profile)
    if alpha is None:
        return opaque
    return Image.composite(opaque, Image.new("RGB", opaque.size, BEHIND_ALPHA), alpha)


def _converted(image: Image.Image, profile: bytes | None) -> Image.Image:
    """Return an RGB or grey image in sRGB; it may be changed in place."""
    if profile:
        # A broken profile, or one that does not fit these pixels, counts as none.
        with suppress(ImageCms.PyCMSError, OSError):
            image = _profiled(image, profile)
    return image if image.mode == "RGB" else image.convert("RGB")


def _profiled(image: Image.Image, profile: bytes) -> Image.Image:
    source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
    if "sRGB" in ImageCms.getProfileDescription(source):
        return image
    done = ImageCms.profileToProfile(
        image,
        source,
        ImageCms.createProfile("sRGB"),
        ImageCms.Intent.RELATIVE_COLORIMETRIC,
        outputMode="RGB",
        inPlace=image.mode == "RGB",  # a third faster, but impossible from grey
    )
    return image if done is None else done
