"""How is a document set as PDF? From a layout and finished words, and from nothing else."""

import json
import threading
from collections.abc import Mapping
from datetime import UTC, date, datetime, time
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Literal

from backoffice.errors import Refused

if TYPE_CHECKING:
    import typst

Paper = Literal["us-letter", "a4"]

_local = threading.local()


def set_pdf(layout: Path, words: Mapping[str, object], paper: Paper, stamp: date) -> bytes:
    """Set words in a layout as PDF.

    The same words give the same bytes within one version of the program. The file is archival
    and readable aloud (PDF/A-3a, PDF/UA-1) unless it holds a sign that no font here can draw.
    Raises: Refused if the typesetter is not installed.
    """
    compiler = _compiler()
    from typst import TypstError  # installed, or the line above had refused

    # Half a surrogate pair is the one text that JSON carries and the typesetter cannot read.
    data = json.dumps({**words, "paper": paper}, ensure_ascii=False)
    said = data.encode(errors="replace").decode()
    try:
        return _set(compiler, layout, said, stamp, ["a-3a", "ua-1"])
    except TypstError:
        return _set(compiler, layout, said, stamp, [])


def _compiler() -> "typst.Compiler":
    # One for each thread: a compiler in use by another thread refuses to work.
    if not hasattr(_local, "compiler"):
        try:
            import typst
        except ImportError:
            raise Refused("document.no_typesetter") from None
        _local.compiler = typst.Compiler(font_paths=typst.Fonts(include_system_fonts=False))
    compiler: typst.Compiler = _local.compiler
    return compiler


def _set(
    compiler: "typst.Compiler",
    layout: Path,
    said: str,
    stamp: date,
    standards: "list[typst.PDFStandard]",
) -> bytes:
    with TemporaryDirectory() as nothing_to_read:
        made = compiler.compile(
            input=layout.read_bytes(),
            sys_inputs={"data": said},
            format="pdf",
            root=nothing_to_read,
            timestamp=datetime.combine(stamp, time(), UTC),
            pdf_standards=standards,
        )
    if not isinstance(made, bytes):
        raise TypeError("a PDF is one file")
    return made
