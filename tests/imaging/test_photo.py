"""Photo files of every kind, good and broken: facts, pixels, refusals."""

from __future__ import annotations

import struct
import zlib
from hashlib import sha256
from io import BytesIO

import numpy as np
import pillow_heif
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, TiffImagePlugin

from digitizer.errors import PhotoError
from digitizer.imaging.photo import gray_pixels, photo_facts, rgb_pixels

TONES = 4  # grey levels: JPEG and HEIC change a smooth picture by no more


def a_picture(width: int = 96, height: int = 64) -> Image.Image:
    """Red grows to the right, green downwards; no two corners are alike."""
    x, y = np.meshgrid(np.linspace(20, 230, width), np.linspace(20, 230, height))
    return Image.fromarray(np.dstack([x, y, np.full_like(x, 90)]).astype(np.uint8))


def saved(image: Image.Image, kind: str = "JPEG", **options: object) -> bytes:
    stream = BytesIO()
    image.save(stream, kind, **({"quality": 95, "subsampling": 0} if kind == "JPEG" else {}) | options)
    return stream.getvalue()


def heic(image: Image.Image, **options: object) -> bytes:
    pillow_heif.register_heif_opener()
    return saved(image, "HEIF", quality=95, **options)


def exif_of(main: dict[int, object], photo: dict[int, object] | None = None) -> Image.Exif:
    exif = Image.Exif()
    exif.update(main)
    exif.get_ifd(0x8769).update(photo or {})
    return exif


STORED_FROM_UPRIGHT = {
    1: lambda a: a,
    2: np.fliplr,
    3: lambda a: np.rot90(a, 2),
    4: np.flipud,
    5: lambda a: np.swapaxes(a, 0, 1),
    6: np.rot90,
    7: lambda a: np.rot90(np.swapaxes(a, 0, 1), 2),
    8: lambda a: np.rot90(a, -1),
}
"""What a camera stores for each EXIF orientation, from the tag's definition: where row 0 and column 0 lie."""


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "HEIC"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_orientation_arrives_upright(kind, orientation):
    """Pixels and sizes are those of the upright picture, whatever way it was stored."""
    upright = np.asarray(a_picture())
    stored = Image.fromarray(np.ascontiguousarray(STORED_FROM_UPRIGHT[orientation](upright)))
    exif = exif_of({0x0112: orientation})
    # The HEIC encoder writes the turn into the container, where the standard wants it, when EXIF comes as bytes.
    data = heic(stored, exif=exif.tobytes()) if kind == "HEIC" else saved(stored, kind, exif=exif)
    facts = photo_facts(data, "a")
    assert (facts.width_px, facts.height_px) == (96, 64)
    assert facts.file_format == kind
    assert np.abs(rgb_pixels(data, "a").astype(int) - upright).mean() < TONES
    assert gray_pixels(data, "a").shape == (64, 96)


def test_gray_is_the_luma_of_the_colours():
    """The quick way to grey gives what the colours give."""
    data = saved(a_picture())
    luma = rgb_pixels(data, "a") @ (0.299, 0.587, 0.114)
    assert np.abs(gray_pixels(data, "a") - luma).max() < 2  # grey levels, of rounding


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        pytest.param(saved(Image.new("CMYK", (8, 8), (0, 0, 0, 128)), "JPEG"), 127, id="cmyk-jpeg"),
        pytest.param(saved(Image.new("P", (8, 8), 0), "PNG", transparency=b"\x00"), 255, id="palette-all-transparent"),
        pytest.param(saved(Image.new("RGBA", (8, 8), (0, 0, 0, 128)), "PNG"), 127, id="half-transparent-black"),
        pytest.param(saved(Image.new("LA", (8, 8), (70, 255)), "PNG"), 70, id="grey-with-alpha"),
        pytest.param(saved(Image.new("1", (8, 8), 1), "PNG"), 255, id="one-bit"),
        pytest.param(saved(Image.new("I;16", (8, 8), 100 * 257), "PNG"), 100, id="16-bit-png"),
        pytest.param(saved(Image.new("I;16", (8, 8), 100 * 257), "TIFF"), 100, id="16-bit-tiff"),
        pytest.param(saved(Image.new("I", (8, 8), 100 * 257), "TIFF"), 100, id="32-bit-tiff"),
    ],
)
def test_unusual_pixels_become_plain_ones(data, expected):
    """Deep, transparent, indexed and printers' colours arrive as 8-bit tones."""
    assert gray_pixels(data, "a") == pytest.approx(expected, abs=2)  # grey levels
    assert rgb_pixels(data, "a") == pytest.approx(expected, abs=2)


def test_decimal_pixels_are_refused():
    """A picture of decimal numbers is data, not a photo."""
    with pytest.raises(PhotoError, match="decimal numbers"):
        gray_pixels(saved(Image.new("F", (8, 8), 0.5), "TIFF"), "a")


def test_first_frame_of_a_tiff_is_the_picture():
    """Further frames of a file are left alone."""
    data = saved(Image.new("L", (8, 6), 200), "TIFF", save_all=True, append_images=[Image.new("L", (4, 4), 10)])
    assert gray_pixels(data, "a").shape == (6, 8)
    assert gray_pixels(data, "a").min() == 200


def test_facts_of_a_phone_photo():
    """All that the camera noted is found, each thing said once."""
    data = saved(
        a_picture(),
        exif=exif_of(
            {0x010F: "Acme", 0x0110: "Acme P7", 0x0132: "2026:01:01 00:00:00"},
            {
                0x9003: "2025:05:06 10:12:33",
                0x920A: TiffImagePlugin.IFDRational(57, 10),
                0xA405: 26,
                0xA002: 96,
                0xA003: 64,
                0xA434: "Acme P7 back camera 5.7mm f/1.8",
            },
        ),
    )
    facts = photo_facts(data, "stern.jpg")
    assert facts.captured == "2025-05-06T10:12:33"
    assert facts.device == "Acme P7, back camera 5.7mm f/1.8"
    assert (facts.focal_mm, facts.focal_35mm) == (5.7, 26.0)
    assert (facts.exif_width_px, facts.exif_height_px) == (96, 64)
    assert facts.sha256 == sha256(data).hexdigest()
    assert facts.name == "stern.jpg"


def test_exif_size_is_turned_with_the_picture():
    """The size in EXIF is that of the stored picture, and comes out comparable to the upright one."""
    exif = exif_of({0x0112: 6}, {0xA002: 96, 0xA003: 64})
    facts = photo_facts(saved(a_picture(), exif=exif), "a")
    assert (facts.width_px, facts.height_px) == (facts.exif_width_px, facts.exif_height_px) == (64, 96)
    assert facts.orientation == 6


def test_stripped_photo_has_no_facts_but_its_size():
    """Nothing is guessed where a messenger removed the metadata."""
    facts = photo_facts(saved(a_picture()), "a")
    assert facts.captured is None
    assert facts.device is None
    assert facts.focal_35mm is None
    assert facts.exif_width_px is None
    assert facts.orientation == 1


@pytest.mark.parametrize(
    "value",
    [
        pytest.param(TiffImagePlugin.IFDRational(5, 0), id="zero-denominator"),
        pytest.param(TiffImagePlugin.IFDRational(-5, 2), id="negative"),
        pytest.param(0, id="zero"),
        pytest.param("26 mm", id="text"),
        pytest.param((26, 50), id="two-numbers"),
    ],
)
def test_absurd_focal_length_is_none(value):
    """A focal length that is no positive number is left out."""
    facts = photo_facts(saved(a_picture(), exif=exif_of({}, {0x920A: value, 0xA405: value})), "a")
    assert facts.focal_mm is None
    assert facts.focal_35mm is None


@pytest.mark.parametrize("time", ["0000:00:00 00:00:00", "    :  :     :  :  ", "yesterday", "2025:13:40 10:00:00"])
def test_absurd_time_is_none(time):
    """A time that never was is left out."""
    assert photo_facts(saved(a_picture(), exif=exif_of({}, {0x9003: time})), "a").captured is None


def with_raw_exif(block: bytes) -> bytes:
    """A JPEG with any bytes in place of its EXIF block."""
    jpeg = saved(a_picture())
    body = b"Exif\0\0" + block
    return jpeg[:2] + b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body + jpeg[2:]


@given(st.binary(max_size=300), st.sampled_from([b"", b"II*\0\x08\0\0\0", b"MM\0*\0\0\0\x08"]))
@settings(max_examples=300, deadline=None)
def test_broken_exif_never_kills_a_good_photo(noise, start):
    """Whatever stands in the metadata, the picture is read."""
    data = with_raw_exif(start + noise)
    assert photo_facts(data, "a").file_format == "JPEG"
    assert sorted(gray_pixels(data, "a").shape) == [64, 96]


@given(st.integers(0, 200), st.integers(0, 255))
@settings(max_examples=200, deadline=None)
def test_damaged_exif_never_kills_a_good_photo(place, value):
    """One wrong byte in an otherwise good EXIF block does no more than lose facts."""
    block = bytearray(exif_of({0x010F: "Acme", 0x0112: 6}, {0x9003: "2025:05:06 10:12:33", 0xA405: 26}).tobytes()[6:])
    block[place % len(block)] = value
    assert sorted(gray_pixels(with_raw_exif(bytes(block)), "a").shape) == [64, 96]
    photo_facts(with_raw_exif(bytes(block)), "a")


def bomb(width: int, height: int) -> bytes:
    """Header of a PNG that claims a size it hasn't."""
    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    chunks = [(b"IHDR", header), (b"IDAT", zlib.compress(b"\0" * 100)), (b"IEND", b"")]
    packed = [struct.pack(">I", len(c)) + k + c + struct.pack(">I", zlib.crc32(k + c)) for k, c in chunks]
    return b"\x89PNG\r\n\x1a\n" + b"".join(packed)


JPEG_BYTES = saved(a_picture(400, 300))


@pytest.mark.parametrize(
    ("data", "words"),
    [
        pytest.param(b"", "the file is empty: copy the original", id="empty"),
        pytest.param(b"dear surveyor, the photo follows\n" * 20, "no JPEG, PNG, TIFF or HEIC picture", id="text"),
        pytest.param(saved(a_picture(), "GIF"), "no JPEG, PNG, TIFF or HEIC picture", id="gif"),
        pytest.param(b"\0\0\0\x18ftypheic\0\0\0\0mif1heic", "no JPEG, PNG, TIFF or HEIC", id="heic-without-anything"),
        pytest.param(bomb(30_000, 30_000), "900 megapixels, and at most 250", id="bomb"),
        pytest.param(JPEG_BYTES[:2], "no JPEG", id="jpeg-of-two-bytes"),
    ],
)
@pytest.mark.parametrize("read", [photo_facts, gray_pixels, rgb_pixels])
def test_no_photo_is_refused_in_words(read, data, words):
    """Each kind of rubbish is refused with the file's name and what to do."""
    with pytest.raises(PhotoError, match=words) as refusal:
        read(data, "stern.jpg")
    assert str(refusal.value).startswith("stern.jpg: ")


@pytest.mark.parametrize("share", [0.3, 0.6, 0.9, 0.97])
@pytest.mark.parametrize(
    "data",
    [
        pytest.param(JPEG_BYTES, id="jpeg"),
        pytest.param(saved(a_picture(400, 300), progressive=True), id="progressive-jpeg"),
        pytest.param(saved(a_picture(400, 300), "PNG"), id="png"),
        pytest.param(heic(a_picture(400, 300)), id="heic"),
    ],
)
def test_cut_short_photo_is_refused(data, share):
    """A photo whose end is missing is refused, never filled up with grey."""
    cut = data[: int(len(data) * share)]
    for read in (gray_pixels, rgb_pixels):
        with pytest.raises(PhotoError, match="copy the original file again"):
            read(cut, "stern.jpg")


def test_photo_of_two_hundred_megapixels_is_not_refused_by_its_header():
    """The largest pictures that phones deliver are under the limit."""
    assert photo_facts(bomb(16_320, 12_240), "a").width_px == 16_320


@given(st.binary(min_size=1, max_size=200), st.sampled_from([b"", b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"II*\0"]))
@settings(max_examples=200, deadline=None)
def test_any_bytes_give_a_picture_or_a_refusal(noise, start):
    """No other exception ever leaves the door."""
    for read in (photo_facts, gray_pixels):
        try:
            read(start + noise, "a")
        except PhotoError:
            continue
