"""Receipts and photos are kept by what they contain, on both engines."""

import hashlib
import os
from pathlib import Path

import pytest
import sqlalchemy as sa

from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.files import photo, queries, service
from backoffice.files.models import File
from backoffice.files.photo import Upload
from tests.files.pictures import PDF, picture


@pytest.mark.parametrize(
    ("sent", "media_type"), [(picture(), "image/jpeg"), (PDF, "application/pdf")]
)
def test_a_file_is_kept_under_its_digest_with_the_type_it_has(
    both: Database, tmp_path: Path, sent: bytes, media_type: str
) -> None:
    upload = photo.read(sent)
    with both.writing() as unit:
        kept = service.keep(unit.session, tmp_path, upload, "receipt.exe")
    digest = hashlib.sha256(upload.content).hexdigest()
    with both.reading() as session:
        file = queries.kept(session, tmp_path, kept)
        row = session.get_one(File, kept)
        assert (row.size, row.name) == (len(upload.content), "receipt.exe")
    assert (file.media_type, file.sha256) == (media_type, digest)
    assert file.is_picture == (media_type == "image/jpeg")
    assert file.path == tmp_path / "attachments" / digest[:2] / digest
    assert file.path.read_bytes() == upload.content
    if os.name == "posix":
        assert file.path.stat().st_mode & 0o777 == 0o600
        assert file.path.parent.stat().st_mode & 0o777 == 0o700
    assert [found.name for found in file.path.parent.iterdir()] == [digest]


def test_the_same_file_is_kept_once(both: Database, tmp_path: Path) -> None:
    numbers = set()
    for name in ("one.jpg", "two.jpg"):
        with both.writing() as unit:
            numbers.add(service.keep(unit.session, tmp_path, photo.read(picture()), name))
    with both.reading() as session:
        assert session.scalars(sa.select(File.name)).all() == ["one.jpg"]
    assert len(numbers) == 1


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
        kept = service.keep(unit.session, tmp_path, Upload(PDF, "application/pdf"), typed)
    with database.reading() as session:
        assert session.get_one(File, kept).name == shown
        file = queries.kept(session, tmp_path, kept)
    assert file.path.is_relative_to(tmp_path / "attachments")


def test_a_write_that_fails_leaves_nothing_behind(
    database: Database, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"), database.writing() as unit:
        service.keep(unit.session, tmp_path, Upload(PDF, "application/pdf"), "receipt.pdf")
    with database.reading() as session:
        assert session.scalars(sa.select(File)).all() == []
    assert [path for path in tmp_path.rglob("*") if path.is_file() and path.suffix != ".db"] == []


def test_a_file_that_is_not_there_is_refused(database: Database, tmp_path: Path) -> None:
    with database.reading() as session, pytest.raises(Refused, match=r"record\.missing"):
        queries.kept(session, tmp_path, 99)
