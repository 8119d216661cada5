"""Where do the program's own files and the practice's data lie?"""

import os
from pathlib import Path

from platformdirs import user_data_path

_PACKAGE = Path(__file__).parent


def _shipped(name: str) -> Path:
    packed = _PACKAGE / f"_{name}"
    return packed if packed.is_dir() else _PACKAGE.parent / name


def templates() -> Path:
    """Give the folder of the page and document templates."""
    return _shipped("templates")


def demo() -> Path:
    """Give the folder of the demo practice's scenario."""
    return _shipped("demo_db")


def chosen(typed: str = "") -> Path:
    """Give the practice's data folder, whether it is there or not.

    What was typed, then BACKOFFICE_DATA, then the user's own data folder.
    """
    return Path(typed or os.environ.get("BACKOFFICE_DATA", "") or user_data_path("backoffice"))


def data(typed: str = "") -> Path:
    """Give the practice's data folder as ``chosen``, made if need be and closed to other users."""
    folder = chosen(typed)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    if os.name == "posix":
        folder.chmod(0o700)
    return folder
