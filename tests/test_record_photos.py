"""Photos of a record: shown where their header promises a size that can be shown, named with the reason where not."""

from __future__ import annotations

import io
import struct
import sys
import zlib
from dataclasses import replace
from pathlib import Path
from types import FrameType
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from buildtrack.judging import Judged
from buildtrack.model.build import Entry, Reading
from buildtrack.record import files
from buildtrack.record.content import gather
from buildtrack.record.picture_size import Picture, picture
from tests import record_builds

SIGNATURE = b"\x89PNG\r\n\x1a\n"


def chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def header(width: int, height: int) -> bytes:
    return chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0))


def black(width: int, height: int) -> bytes:
    """A whole PNG, one bit a pixel, all black."""
    packer = zlib.compressobj(9)
    row = bytes(1 + -(-width // 8))
    data = b"".join(packer.compress(row * 1000) for _ in range(height // 1000)) + packer.compress(row * (height % 1000))
    return SIGNATURE + header(width, height) + chunk(b"IDAT", data + packer.flush()) + chunk(b"IEND", b"")


def saved(size: tuple[int, int], kind: str, **how: object) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", size, (90, 120, 60)).save(out, kind, **how)
    return out.getvalue()


def with_photos(folder: Path, **photos: bytes) -> Judged:
    """A build whose photo items hold these pictures."""
    judged = record_builds.full_judged(folder)
    entries = dict(judged.build.entries)
    for item, content in photos.items():
        (folder / f"{item}.img").write_bytes(content)
        entries[item] = Entry((Reading(f"{item}.img"),))
    return replace(judged, build=replace(judged.build, entries=entries), folder=folder)


def test_a_small_file_that_unfolds_to_900_million_pixels_is_named_and_not_shown(tmp_path: Path) -> None:
    bomb = black(30_000, 30_000)
    assert len(bomb) < 200_000
    pages = gather(with_photos(tmp_path, label_photo=bomb, wiring_photo=black(40, 30)), b"x")
    assert [p.name for p in pages.photos] == ["wiring_photo.img"]
    told = {f.name: f for f in pages.files}
    assert "not shown: 30000 × 30000 pixels; at most 50 million are" in told["label_photo.img"].remark
    assert told["label_photo.img"].inside, "it is attached as it is all the same"
    assert "not shown" not in told["wiring_photo.img"].remark


def test_photos_are_shown_as_far_as_all_their_pixels_fit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files, "MOST_PIXELS_IN_ALL", 2500)
    pages = gather(with_photos(tmp_path, old_order_photo=black(40, 40), label_photo=black(40, 30), wiring_photo=black(30, 30)), b"x")
    # 1600 and 900 pixels are 2500; the 1200 between them would be too many
    assert sorted(p.name for p in pages.photos) == ["old_order_photo.img", "wiring_photo.img"]
    assert "the photos before it fill the room" in next(f.remark for f in pages.files if f.name == "label_photo.img")


def test_what_is_no_picture_is_named_and_not_shown(tmp_path: Path) -> None:
    pages = gather(with_photos(tmp_path, label_photo=b"<svg/>", wiring_photo=SIGNATURE + b"cut"), b"x")
    assert pages.photos == ()
    remarks = [f.remark for f in pages.files if f.name.endswith(".img")]
    assert len(remarks) == 2 and all("not that of a PNG or JPEG picture" in r for r in remarks)


@given(st.integers(1, 70), st.integers(1, 70), st.sampled_from([
    ("PNG", {}), ("JPEG", {}), ("JPEG", {"progressive": True}), ("JPEG", {"comment": b"\xff\xc0 a frame? no: a comment"}),
    ("JPEG", {"exif": b"Exif\x00\x00" + b"\xff\xc2" * 40})]))
def test_sizes_are_those_another_reader_finds(width: int, height: int, how: tuple[str, dict[str, object]]) -> None:
    kind, options = how
    content = saved((width, height), kind, **options)
    assert picture(content) == Picture(f"image/{kind.lower()}", width, height)
    assert Image.open(io.BytesIO(content)).size == (width, height)


def test_a_second_header_does_not_hide_the_size() -> None:
    # the reader of the layout takes the last header before the data
    two = SIGNATURE + header(3, 3) + header(30_000, 30_000) + chunk(b"IDAT", b"") + chunk(b"IEND", b"")
    assert picture(two) == Picture("image/png", 30_000, 30_000)


@given(st.binary(max_size=200), st.sampled_from([SIGNATURE, SIGNATURE + header(5, 4)[:15], b"\xff\xd8", b"\xff\xd8\xff\xc0\x00\x11\x08", b""]))
def test_spoiled_headers_give_nothing_or_a_size_and_no_error(rest: bytes, start: bytes) -> None:
    found = picture(start + rest)
    assert found is None or found.pixels > 0


def steps_of_reading(content: bytes) -> tuple[Picture | None, int]:
    """What `picture` finds, and how many lines of the program it ran for that."""
    ran = 0

    def count(frame: FrameType, event: str, argument: object) -> Any:
        nonlocal ran
        ran += event == "line"
        return count

    before = sys.gettrace()
    sys.settrace(count)
    try:
        return picture(content), ran
    finally:
        sys.settrace(before)


JPEG = saved((40, 30), "JPEG")


@pytest.mark.parametrize("junk", [b"\x00", b"\xff", b"\xff\x00"])
def test_junk_before_the_header_is_skipped_in_a_few_steps_and_hides_nothing(junk: bytes) -> None:
    found, steps = steps_of_reading(JPEG[:2] + junk * 100_000 + JPEG[2:])
    assert found == Picture("image/jpeg", 40, 30)
    assert steps < 1000, "not a step for each byte"


@pytest.mark.parametrize("part", [b"\xff\xd0", b"\xff\xe1\x00\x02", chunk(b"tEXt", b"")])
def test_a_header_of_endless_parts_is_given_up_as_no_picture(part: bytes) -> None:
    start, rest = (JPEG[:2], JPEG[2:]) if part[0] == 0xFF else (SIGNATURE, header(40, 30))
    assert picture(start + part * 50 + rest) is not None
    found, steps = steps_of_reading(start + part * 30_000 + rest)
    assert found is None and steps < 200_000


def test_a_size_told_before_endless_parts_is_not_believed() -> None:
    # a reader of the layout would go on to the second size
    assert picture(SIGNATURE + header(3, 3) + chunk(b"tEXt", b"") * 30_000 + header(30_000, 30_000)) is None


def test_each_photo_is_read_once_and_one_that_is_too_large_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    judge_all = files.not_shown
    asked: list[str] = []

    def all_asked(found: tuple[files.Found, ...]) -> dict[str, str]:
        asked.append("all")
        return judge_all(found)

    def one_asked(content: bytes) -> Picture | None:
        asked.append(str(len(content)))
        return picture(content)

    monkeypatch.setattr(files, "not_shown", all_asked)
    monkeypatch.setattr(files, "picture", one_asked)
    monkeypatch.setattr(files, "LARGEST_PHOTO", 2000)
    pages = gather(with_photos(tmp_path, label_photo=JPEG[:2] + bytes(3000), wiring_photo=black(40, 30)), b"x")
    assert asked.count("all") == 1 and "3002" not in asked
    remark = next(f.remark for f in pages.files if f.name == "label_photo.img")
    assert "not shown: 3002 bytes" in remark
