"""What only this practice's data folder knows."""

import os
import secrets
from pathlib import Path

NAME = "secret"


def secret_of(folder: Path) -> bytes:
    """Read the folder's secret, made at the first start and closed to other users."""
    path = folder / NAME
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return bytes.fromhex(path.read_text(encoding="ascii"))
    made = secrets.token_bytes(32)
    with os.fdopen(handle, "w", encoding="ascii") as file:
        file.write(made.hex())
    return made
