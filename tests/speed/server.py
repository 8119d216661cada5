"""The program as it is started at a shell, with one question it answers about itself.

``python -m tests.speed.server JOURNAL FOLDER PORT``; each line it is sent is answered with one of
JSON: the resident memory in bytes, or null where the system does not say, and whether pandas was
imported.
"""

import json
import os
import sys
import threading
from pathlib import Path

from backoffice import db
from backoffice.cli import main

STATM = Path("/proc/self/statm")


def resident() -> int | None:
    """Give the memory this process holds now."""
    if not STATM.exists():
        return None
    return int(STATM.read_text(encoding="ascii").split()[1]) * os.sysconf("SC_PAGE_SIZE")


def answer() -> None:
    """Answer each line with what is known of this process."""
    for _ in sys.stdin:
        said = {"resident": resident(), "pandas": "pandas" in sys.modules}
        sys.stdout.write(json.dumps(said) + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    journal, folder, port = sys.argv[1:]
    db._wal_is_safe = lambda version: journal == "wal"
    threading.Thread(target=answer, daemon=True).start()
    main(["serve", "--data", folder, "--port", port, "--no-browser"])
