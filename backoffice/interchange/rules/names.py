"""Who is meant? Names turned round, shouted, shortened or written twice, made one."""

import re
from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass, field

from backoffice.clients.rules import search_key
from backoffice.interchange.rules.brought import Value
from backoffice.interchange.rules.values import said

_TITLES = frozenset({
    "mr", "mrs", "ms", "miss", "dr", "sir", "lady", "herr", "frau", "fr", "hr", "mme", "m", "mlle",
    "sr", "sra", "don", "dona", "dhr", "mevr",
})  # fmt: skip
_FIRMS = frozenset({"inc", "llc", "ltd", "co", "gmbh", "ag", "kg", "sa", "sarl", "bv", "plc"})
_PARTED = re.compile(r"\s*[/;]\s*")
_AND = re.compile(r"\s*(?:[/;&+]|\band\b|\bund\b|\bet\b)\s*")
_PART = re.compile(r"\(?\b(\d{1,3})\s*(?:%|/(?=\s*\d)|\b)\)?")


def read_name(value: Value) -> tuple[str | None, str]:
    """Give a name the way it is spoken, and say with a code what was changed.

    ``Fell, Orla`` is turned round, ``ORLA FELL`` is written small; a comma before ``Ltd`` or the
    like stays.
    Source: docs/rules/interchange.md#names
    """
    text = said(value)
    if text is None:
        return None, ""
    code = ""
    last, comma, first = (part.strip() for part in text.partition(","))
    turned = comma and last and first and "," not in first and not re.search(r"\d", text)
    if turned and search_key(first) not in _FIRMS:
        text, code = f"{first} {last}", "read.changed.name_turned"
    if text.isupper() and len(text) > 4 and " " in text:
        text, code = small(text), "read.changed.name_shouted"
    return text, code


def small(text: str) -> str:
    """Write a name in capitals small, each word with its first letter large."""
    return re.sub(r"[^\W\d_]+", lambda word: word[0].capitalize(), text).replace("’S", "’s")


def without_title(name: str) -> str:
    """Give a name without Mr, Mrs, Frau and the like in front."""
    words = name.split()
    while len(words) > 1 and search_key(words[0]).rstrip(".") in _TITLES:
        words = words[1:]
    return " ".join(words)


def payers_named(text: str) -> tuple[tuple[str, int], ...]:
    """Part ``Fell 60 / Roe 40`` into names and integer parts; equal parts where none are written.

    Source: docs/rules/interchange.md#who-pays
    """
    parts = [int(number) for number in _PART.findall(text)]
    bare = _PART.sub(" ", text).replace("%", " ")
    names = [" ".join(name.split()).strip(" ,-()") for name in _PARTED.split(bare)]
    names = [name for name in names if re.search(r"[^\W\d_]", name)]
    if not names:
        return ()
    if len(parts) != len(names) or not all(0 < part <= 100 for part in parts):
        parts = [1] * len(names)
    return tuple(zip(names, parts, strict=True))


def has_parts(text: str) -> bool:
    """Say whether the parts of several payers are written beside their names."""
    return bool(_PART.search(text))


@dataclass(slots=True)
class People:
    """The clients a workbook names, under the spelling kept, and what they are found by."""

    names: dict[str, str] = field(default_factory=dict)
    by_word: dict[str, list[str]] = field(default_factory=dict)

    def add(self, name: str) -> str:
        """Take a name in, unless it is there in another spelling; give the spelling kept."""
        key = search_key(name)
        if key not in self.names:
            for word in dict.fromkeys(key.split()):
                self.by_word.setdefault(word, []).append(key)
        return self.names.setdefault(key, name)

    def known(self, name: str) -> str | None:
        """Give the spelling kept of a whole name, or None."""
        return self.names.get(search_key(name))

    def meant(self, name: str) -> tuple[str, ...]:
        """Give everyone a shortened name may mean: a surname, a title and surname, an initial.

        Source: docs/rules/interchange.md#names
        """
        if known := self.known(name):
            return (known,)
        words = search_key(without_title(name)).split()
        if not words:
            return ()
        like = self.by_word.get(words[-1], ())
        return tuple(self.names[key] for key in like if _short_for(words, key.split()))

    def couple(self, text: str) -> tuple[str, ...]:
        """Part ``Orla Fell & Bram Roe`` where each side is someone known; else nobody is parted."""
        sides = [side for side in _AND.split(text) if side.strip()]
        if len(sides) < 2:
            return ()
        found = [self.known(read_name(side)[0] or "") for side in sides]
        return tuple(name for name in found if name) if all(found) else ()


def _short_for(words: list[str], full: list[str]) -> bool:
    if len(full) < 2 or len(words) >= len(full) > 2:
        return False
    if len(words) == 1:
        return words[0] == full[-1] or words[0] == full[0] or words == full[1:]
    first = words[0].rstrip(".")
    initial = len(first) == 1 and full[0].startswith(first) and words[1:] == full[1:]
    return initial or words == full[-len(words) :]


def by_evidence(
    meant: Iterable[str],
    horse: str,
    seen: Mapping[str, set[str]],
    taken: Container[tuple[str, str]],
) -> str | None:
    """Choose the one person whose full name stands beside this horse elsewhere, if only one does.

    Source: docs/rules/interchange.md#names
    """
    key = search_key(horse)
    found = [
        name
        for name in meant
        if name in seen.get(key, set()) and (key, search_key(name)) not in taken
    ]
    return found[0] if len(found) == 1 else None
