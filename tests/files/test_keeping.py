"""Keeping a file when something goes wrong around it."""

from pathlib import Path
from threading import Thread

import pytest
import sqlalchemy as sa

from backoffice.db import Database
from backoffice.files import queries, service
from backoffice.files.models import File
from backoffice.files.photo import Upload

PHOTO = Upload(b"\xff\xd8\xff\xe0 a photo", "image/jpeg")


def test_a_photo_sent_from_two_places_at_once_is_kept_once(both: Database, tmp_path: Path) -> None:
    kept: list[int] = []

    def send() -> None:
        with both.writing() as unit:
            kept.append(service.keep(unit.session, tmp_path, PHOTO, "photo.jpg"))

    threads = [Thread(target=send) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert len(kept) == 4
    assert len(set(kept)) == 1
    files = [path for path in (tmp_path / "attachments").rglob("*") if path.is_file()]
    assert [path.read_bytes() for path in files] == [PHOTO.content]


def test_a_file_whose_saving_was_taken_back_is_kept_by_sending_it_again(
    both: Database, tmp_path: Path
) -> None:
    def goes_wrong() -> None:
        with both.writing() as unit:
            service.keep(unit.session, tmp_path, PHOTO, "photo.jpg")
            raise RuntimeError("half way")

    with pytest.raises(RuntimeError, match="half way"):
        goes_wrong()
    with both.reading() as session:
        assert session.scalars(sa.select(File)).all() == []
    with both.writing() as unit:
        kept = service.keep(unit.session, tmp_path, PHOTO, "photo.jpg")
    with both.reading() as session:
        assert queries.kept(session, tmp_path, kept).path.read_bytes() == PHOTO.content


@pytest.mark.parametrize(
    "name", ["", "..", "/etc/passwd", "C:\\windows\\win.ini", "a/../../b", "\0", "con", "%2e%2e/x"]
)
def test_no_name_leads_a_file_out_of_its_folder(
    database: Database, tmp_path: Path, name: str
) -> None:
    folder = tmp_path / "data"
    with database.writing() as unit:
        service.keep(unit.session, folder, PHOTO, name)

    files = [path for path in tmp_path.rglob("*") if path.is_file()]
    assert len([path for path in files if path.read_bytes() == PHOTO.content]) == 1
    assert all(path.parent == tmp_path or folder in path.parents for path in files)
