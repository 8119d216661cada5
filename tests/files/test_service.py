"""Receipts and photos are kept by what they contain, on both engines."""

import hashlib
import os
from pathlib import Path

import pytest
import sqlalchemy as sa

from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.files import service
from backoffice.files.models import File
from backoffice.words import CATALOGUE

JPEG = b"\xff\xd8\xff\xe0 a photo"


@pytest.mark.parametrize(
    ("content", "media_type"),
    [
        (JPEG, "image/jpeg"),
        (b"\x89PNG\r\n\x1a\n a drawing", "image/png"),
        (b"RIFF\x00\x00\x00\x00WEBP a photo", "image/webp"),
        (b"%PDF-1.7 a receipt", "application/pdf"),
    ],
)
def test_a_file_is_kept_under_its_digest_with_the_type_it_has(
    both: Database, tmp_path: Path, content: bytes, media_type: str
) -> None:
    with both.writing() as unit:
        kept = service.keep(unit.session, tmp_path, content, "receipt.exe")
    digest = hashlib.sha256(content).hexdigest()
    with both.reading() as session:
        path = service.path_of(session, tmp_path, kept)
        row = session.get_one(File, kept)
        assert (row.media_type, row.size, row.name) == (media_type, len(content), "receipt.exe")
    assert path == tmp_path / "attachments" / digest[:2] / digest
    assert path.read_bytes() == content
    if os.name == "posix":
        assert path.stat().st_mode & 0o777 == 0o600
        assert path.parent.stat().st_mode & 0o777 == 0o700
    assert [found.name for found in path.parent.iterdir()] == [digest]


def test_the_same_file_is_kept_once(both: Database, tmp_path: Path) -> None:
    numbers = set()
    for name in ("one.jpg", "two.jpg"):
        with both.writing() as unit:
            numbers.add(service.keep(unit.session, tmp_path, JPEG, name))
    with both.reading() as session:
        assert session.scalars(sa.select(File.name)).all() == ["one.jpg"]
    assert len(numbers) == 1


@pytest.mark.parametrize("content", [b"", b"<svg>", b"GIF89a", b"MZ", b" %PDF-", b"RIFF0000WAVE"])
def test_any_other_kind_of_file_is_refused_and_nothing_is_written(
    database: Database, tmp_path: Path, content: bytes
) -> None:
    with pytest.raises(Refused) as refused, database.writing() as unit:
        service.keep(unit.session, tmp_path, content, "photo.jpg")

    assert refused.value.code == "file.kind"
    assert "file.kind" in CATALOGUE["us"]
    assert not (tmp_path / "attachments").exists()


def test_a_file_above_ten_megabytes_is_refused_and_one_of_ten_is_kept(
    database: Database, tmp_path: Path
) -> None:
    with database.writing() as unit:
        service.keep(unit.session, tmp_path, JPEG.ljust(service.MOST, b"."), "large.jpg")
    with pytest.raises(Refused) as refused, database.writing() as unit:
        service.keep(unit.session, tmp_path, JPEG.ljust(service.MOST + 1, b"."), "larger.jpg")

    assert refused.value.facts == {"most": 10}


@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        ("../../etc/passwd", "../../etc/passwd"),  # display text only, never part of a path
        ("a\0b\r\n\u202egpj.exe", "abgpj.exe"),
        ("x" * 300 + ".jpg", "x" * 196 + ".jpg"),
    ],
)
def test_the_name_given_is_only_shown_and_never_a_path(
    database: Database, tmp_path: Path, typed: str, shown: str
) -> None:
    with database.writing() as unit:
        kept = service.keep(unit.session, tmp_path, JPEG, typed)
    with database.reading() as session:
        assert session.get_one(File, kept).name == shown
        assert service.path_of(session, tmp_path, kept).is_relative_to(tmp_path / "attachments")


def test_a_write_that_fails_leaves_nothing_behind(
    database: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"), database.writing() as unit:
        service.keep(unit.session, tmp_path, JPEG, "photo.jpg")
    with database.reading() as session:
        assert session.scalars(sa.select(File)).all() == []
    assert [path for path in tmp_path.rglob("*") if path.is_file() and path.suffix != ".db"] == []


def test_a_file_that_is_not_there_is_refused(database: Database, tmp_path: Path) -> None:
    with database.reading() as session, pytest.raises(Refused, match=r"record\.missing"):
        service.path_of(session, tmp_path, 99)
