"""Photographs: drawn anew, nothing behind the picture, bad input refused in words, bytes kept."""

import hashlib
import io
import struct
import zlib
from pathlib import Path
from typing import Any

import pytest
from django.core.files.base import ContentFile
from PIL import Image

from registry.animals.pictures import keeping, limits
from registry.animals.pictures.redrawing import redraw
from registry.errors import Gone, Refusal, TooLarge, Unsound


def photograph(width: int = 900, height: int = 600, kind: str = "JPEG", **more: Any) -> bytes:
    """Give a picture whose left half is dark and whose right half is pale."""
    drawn = Image.new("RGB", (width, height), (40, 40, 40))
    drawn.paste((220, 200, 150), (width // 2, 0, width, height))
    made = io.BytesIO()
    drawn.save(made, kind, **more)
    return made.getvalue()


def sent(content: bytes, name: str = "ray.jpg") -> ContentFile[bytes]:
    return ContentFile(content, name)


def test_a_photograph_is_kept_in_two_sizes_by_its_digest() -> None:
    kept = keeping.keep(sent(photograph(3000, 2000)))
    assert (kept.width, kept.height) == (1600, 1067)
    large, small = keeping.read(kept.sha256), keeping.read(kept.small_sha256)
    assert hashlib.sha256(large).hexdigest() == kept.sha256
    assert len(large) == kept.bytes
    assert Image.open(io.BytesIO(small)).size == (480, 320)
    assert keeping.keep(sent(photograph(3000, 2000))) == kept


def test_where_it_was_taken_and_by_what_does_not_stay_in_it() -> None:
    about = Image.Exif()
    about[0x010F] = "Telephone of Tam"
    about[0x0112] = 6  # to be turned by a quarter: what was wide is upright
    about.get_ifd(0x8825)[2] = (50.0, 20.0, 0.0)
    content = photograph(exif=about, comment=b"a word behind the picture")
    assert b"Telephone of Tam" in content
    kept = keeping.keep(sent(content + b"PK\x03\x04 an archive behind it"))
    drawn = keeping.read(kept.sha256)
    shown = Image.open(io.BytesIO(drawn))
    assert (shown.width, shown.height) == (600, 900)
    assert not shown.getexif()
    for hidden in (b"Telephone", b"a word behind", b"PK\x03\x04"):
        assert hidden not in drawn


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_the_formats_of_telephones_and_cameras_are_read(kind: str) -> None:
    assert keeping.keep(sent(photograph(kind=kind))).width == 900


def test_a_transparent_picture_and_one_of_a_palette_are_read_too(tmp_path: Path) -> None:
    for mode in ("RGBA", "P", "L", "LA"):
        path = tmp_path / f"{mode}.png"
        Image.new(mode, (200, 100)).save(path)
        assert redraw(path, {480: tmp_path / "out.jpg"}) == {"width": 200, "height": 100}


def _bomb() -> bytes:
    """Give a PNG of some hundred bytes that says of itself that it has 3,600 million pixels."""
    head = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)

    def chunk(kind: bytes, data: bytes) -> bytes:
        crc = zlib.crc32(kind + data)
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", crc)

    packed = zlib.compress(b"\0" * 100_000)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", packed) + chunk(b"IEND", b"")
    )


BAD: dict[str, tuple[bytes, type[Refusal], str]] = {
    "no picture": (b"code,taxon\nX1,Raja undulata\n", Unsound, "no whole picture"),
    "nothing": (b"", Unsound, "no whole picture"),
    "half of one": (photograph()[:2000], Unsound, "no whole picture"),
    "a drawing with a script": (b"<svg><script>1</script></svg>", Unsound, "no whole picture"),
    "a format with programs in it": (b"%!PS-Adobe-3.0 EPSF-3.0\n", Unsound, "no whole picture"),
    "a bomb": (_bomb(), Refusal, ""),
    "a speck": (photograph(40, 40), Unsound, "too small"),
}


@pytest.mark.parametrize("name", BAD)
def test_what_is_no_photograph_is_refused_in_words_and_leaves_nothing(
    name: str, settings: Any, tmp_path: Path
) -> None:
    settings.PICTURES, settings.UPLOADS = tmp_path / "pictures", tmp_path / "uploads"
    content, kind, why = BAD[name]
    with pytest.raises(kind) as refused:
        keeping.keep(sent(content))
    assert why in refused.value.why
    assert "file" in refused.value.fields
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []


def test_a_file_over_the_limit_is_not_even_read() -> None:
    class Vast:
        size = limits.MOST_BYTES + 1

        def chunks(self) -> Any:
            raise AssertionError

    with pytest.raises(TooLarge, match="bytes"):
        keeping.keep(Vast())


def test_a_file_that_was_changed_or_lost_is_not_shown(settings: Any, tmp_path: Path) -> None:
    settings.PICTURES = tmp_path / "pictures"
    kept = keeping.keep(sent(photograph()))
    path = keeping.path_of(kept.sha256)
    path.chmod(0o644)
    path.write_bytes(photograph(kind="PNG"))
    with pytest.raises(Gone):
        keeping.read(kept.sha256)
    path.unlink()
    with pytest.raises(Gone):
        keeping.read(kept.sha256)
