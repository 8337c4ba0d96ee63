"""Photos and logs lie beside the build, are known again, and never lead out of its folder."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import pytest

from buildtrack.model.build import Entry, Reading
from buildtrack.storage import attachments
from buildtrack.storage.attachments import AttachmentError, attach, check_attachments, resolve
from buildtrack.storage.checklist_file import parse_checklist
from tests.small import TEXT, small
from tests.storage_cases import HOSTILE, small_build

PHOTO = '\n[[steps.items]]\nid = "picture"\nkind = "photo"\nlabel = "Picture"\nneed = "optional"\n'
WITH_PHOTO = parse_checklist(TEXT.replace('\n[[checks]]\nid = "too-hot"', f'{PHOTO}\n[[checks]]\nid = "too-hot"', 1))[0]


@pytest.fixture
def build_path(tmp_path: Path) -> Path:
    (tmp_path / "work").mkdir()
    return tmp_path / "work" / "trimmer.toml"


def photo(folder: Path, name: str = "photo.jpg", content: bytes = b"picture") -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / name
    path.write_bytes(content)
    return path


def refused(folder: Path, name: str) -> str:
    with pytest.raises(AttachmentError) as caught:
        resolve(folder, name)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def test_a_file_beside_the_build_is_named_where_it_lies(build_path: Path) -> None:
    for folder, name in ((build_path.parent, "photo.jpg"), (build_path.parent / "pictures", "pictures/photo.jpg")):
        found = attach(build_path, photo(folder))
        assert (found.name, found.sha256, found.size) == (name, hashlib.sha256(b"picture").hexdigest(), 7)
    assert sorted(os.listdir(build_path.parent)) == ["photo.jpg", "pictures"]


def test_a_file_from_elsewhere_is_copied_beside_the_build(build_path: Path, tmp_path: Path) -> None:
    found = attach(build_path, photo(tmp_path / "camera"))
    assert found.name == "trimmer_files/photo.jpg"
    assert (build_path.parent / found.name).read_bytes() == b"picture"
    assert os.listdir(build_path.parent / "trimmer_files") == ["photo.jpg"]
    assert attach(build_path, photo(tmp_path / "camera")) == found


def test_another_file_of_the_same_name_gets_a_number(build_path: Path, tmp_path: Path) -> None:
    attach(build_path, photo(tmp_path / "camera"))
    other = attach(build_path, photo(tmp_path / "camera", content=b"other"))
    assert other.name == "trimmer_files/photo-2.jpg"
    assert (build_path.parent / "trimmer_files/photo.jpg").read_bytes() == b"picture"
    assert attach(build_path, photo(tmp_path / "x", "README", b"1")).name == "trimmer_files/README"
    assert attach(build_path, photo(tmp_path / "x", "README", b"2")).name == "trimmer_files/README-2"


def test_a_link_beside_the_build_that_leads_away_is_copied(build_path: Path, tmp_path: Path) -> None:
    link = build_path.parent / "link.jpg"
    link.symlink_to(photo(tmp_path / "camera"))
    assert attach(build_path, link).name == "trimmer_files/link.jpg"


def test_a_folder_for_attachments_that_is_a_link_to_elsewhere_is_not_written_through(build_path: Path, tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (build_path.parent / "trimmer_files").symlink_to(elsewhere)
    with pytest.raises(AttachmentError, match="'trimmer_files' is a link that leads out of the folder of the build file"):
        attach(build_path, photo(tmp_path / "camera"))
    assert list(elsewhere.iterdir()) == []


@pytest.mark.parametrize(("name", "kept"), [
    ("a\nb\x1b.jpg", "a_b_.jpg"), (" .hidden. ", "hidden"), ("x" * 200 + ".jpeg", "x" * 30 + ".jpeg"),
    ("a\\b:c.csv", "a_b_c.csv"), ("\u202ecod.exe", "_cod.exe"), ("\n", "_"), ("ä" * 110, "ä" * 30)])
def test_names_are_made_fit(build_path: Path, tmp_path: Path, name: str, kept: str) -> None:
    found = attach(build_path, photo(tmp_path / "camera", name))
    assert found.name == f"trimmer_files/{kept}"
    assert resolve(build_path.parent, found.name).read_bytes() == b"picture"


def test_a_file_beside_the_build_with_an_impossible_name_is_copied(build_path: Path) -> None:
    assert attach(build_path, photo(build_path.parent, "a\nb.jpg")).name == "trimmer_files/a_b.jpg"


def test_what_cannot_be_attached_is_told(build_path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def said(source: Path) -> str:
        with pytest.raises(AttachmentError) as caught:
            attach(build_path, source)
        return str(caught.value)

    assert said(tmp_path / "none.jpg").endswith("none.jpg: there is no such file")
    assert said(tmp_path).endswith("this is not a file")
    assert "is not a name that a file can have" in said(Path("a\0b"))
    os.mkfifo(tmp_path / "pipe")
    assert said(tmp_path / "pipe").endswith("this is not a file")
    (tmp_path / "round").symlink_to("round")
    assert "cannot be read (the links lead round in a circle)" in said(tmp_path / "round")
    source = photo(tmp_path / "camera")
    (build_path.parent / "trimmer_files").write_text("no folder")
    assert "cannot be copied" in said(source)
    monkeypatch.setattr(attachments, "LARGEST", 3)
    assert "more than the 3 that can be attached" in said(source)


def test_a_file_that_changes_while_it_is_copied_is_not_attached(
        build_path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    source = photo(tmp_path / "camera")
    found = attachments._measured(source, "x")
    monkeypatch.setattr(attachments, "_measured", lambda *_a: (source.write_bytes(b"another"), found)[1])
    with pytest.raises(AttachmentError, match="changed while it was copied"):
        attach(build_path, source)
    assert os.listdir(build_path.parent / "trimmer_files") == []


@pytest.mark.parametrize("name", [
    "../secret", "a/../../secret", "/etc/passwd", "~/x", "~root/x", "C:/x", "file:///etc/passwd", "http://x/y", "a\\b",
    "a\0b", "a\nb", "", " ", " x", "\u202ex", "..", "a/.."])
def test_names_that_lead_away_are_refused(build_path: Path, name: str) -> None:
    assert refused(build_path.parent, name)


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_are_refused_or_stay_inside(build_path: Path, name: str) -> None:
    try:
        found = resolve(build_path.parent, name)
    except AttachmentError:
        return
    assert found.is_relative_to(os.path.realpath(build_path.parent))


def test_links_that_lead_away_are_refused_and_links_inside_are_followed(build_path: Path, tmp_path: Path) -> None:
    folder = build_path.parent
    secret = photo(tmp_path / "secret", "key")
    (folder / "away").symlink_to(secret)
    (folder / "folder").symlink_to(tmp_path / "secret")
    inside = photo(folder, "real.jpg")
    (folder / "near").symlink_to("real.jpg")
    assert "a link that leads out of the folder" in refused(folder, "away")
    assert "a link that leads out of the folder" in refused(folder, "folder/key")
    assert resolve(folder, "near") == Path(os.path.realpath(inside))


def test_a_changed_file_attached_again_under_its_name_is_the_one_that_counts(build_path: Path) -> None:
    folder = build_path.parent
    before = attach(build_path, photo(folder, "log.csv", b"first"))
    (folder / "log.csv").write_bytes(b"later")
    stale = Reading(before.name, sha256=before.sha256, size=before.size)
    assert check_attachments(small_build(entries={"picture": Entry((stale,))}), WITH_PHOTO, folder) != []
    again = attach(build_path, folder / "log.csv")
    fresh = Reading(again.name, sha256=again.sha256, size=again.size)
    build = small_build(entries={"picture": Entry((stale, fresh))})
    assert check_attachments(build, WITH_PHOTO, folder) == []
    (folder / "log.csv").write_bytes(b"third")
    assert [f.problem for f in check_attachments(build, WITH_PHOTO, folder)] == ["changed"]


def test_missing_changed_and_refused_files_are_found(build_path: Path) -> None:
    folder = build_path.parent
    good, longer, other, gone = (attach(build_path, photo(folder, name, name.encode())) for name in "abcd")
    (folder / "b").write_bytes(b"longer")
    (folder / "c").write_bytes(b"C")
    (folder / "d").unlink()
    reading = {f.name: Reading(f.name, sha256=f.sha256, size=f.size) for f in (good, longer, other, gone)}
    build = small_build(entries={
        "picture": Entry((reading["a"], reading["b"], Reading("../x"), Reading("none"), Reading("e", withdrawn="no"))),
        "extra": Entry((reading["c"], reading["d"], Reading("just a text")))})
    found = check_attachments(build, WITH_PHOTO, folder)
    assert [(f.item, f.name, f.problem) for f in found] == [
        ("picture", "b", "changed"), ("picture", "../x", "refused"), ("picture", "none", "missing"),
        ("extra", "c", "changed"), ("extra", "d", "missing")]
    assert [f.message for f in found][:1] == ["b has 6 bytes; when attached it had 1"]
    assert found[3].message == "c is not the file that was attached: its SHA-256 differs"
    assert check_attachments(small_build(), small(), folder) == []
