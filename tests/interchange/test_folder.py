"""Where the files go that are taken out."""

import os
from pathlib import Path

import pytest

from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.interchange import service


def test_a_file_in_the_way_is_refused_and_left_alone(database: Database, tmp_path: Path) -> None:
    target = tmp_path / "mine"
    target.write_text("keep me", encoding="utf-8")

    with pytest.raises(Refused), database.reading() as session:
        service.take_out(session, target)

    assert target.read_text(encoding="utf-8") == "keep me"


@pytest.mark.skipif(os.name != "posix", reason="rights are kept another way here")
def test_the_new_folder_is_closed_to_other_users(database: Database, tmp_path: Path) -> None:
    with database.reading() as session:
        service.take_out(session, tmp_path / "new" / "out")

    assert (tmp_path / "new" / "out").stat().st_mode & 0o777 == 0o700
