"""What do the words of the trade mean? Kinds of horse, work, sizes, tools and ways to pay."""

import re
from dataclasses import dataclass

from backoffice.clients.rules import search_key
from backoffice.interchange.rules.brought import BroughtShoe, Value
from backoffice.interchange.rules.values import plain_text, said
from backoffice.units import Foot

KINDS: dict[str, frozenset[str]] = {
    "pony": frozenset({
        "pony", "ponies", "mini", "minis", "miniature", "shetland", "shetty", "welsh", "connemara",
        "fell", "dartmoor", "exmoor", "hackney", "poney", "icelandic", "haflinger", "pov",
    }),
    "riding": frozenset({
        "riding", "light", "tb", "thoroughbred", "arab", "arabian", "morgan", "saddlebred",
        "standardbred", "gaited", "walker", "grade", "hunter", "hack", "reitpferd", "vollblut",
        "araber", "traber", "selle",
    }),
    "stock": frozenset({
        "stock", "qh", "quarter", "paint", "appaloosa", "appy", "mustang", "cob", "western",
    }),
    "sport": frozenset({
        "sport", "warmblood", "warmbloods", "wb", "hanoverian", "oldenburg", "trakehner", "dutch",
        "kwpn", "warmblut", "isb", "id", "irish", "andalusian", "lusitano", "friesian",
    }),
    "draft": frozenset({
        "draft", "drafts", "draught", "belgian", "percheron", "clydesdale", "clyde", "shire",
        "heavy", "kaltblut", "trait", "suffolk", "vanner",
    }),
    "donkey": frozenset({
        "donkey", "donkeys", "mule", "mules", "esel", "ane", "burro", "mulo", "mula", "ezel",
    }),
    "foal": frozenset({"foal", "foals", "weanling", "yearling", "fohlen", "poulain", "potro"}),
}  # fmt: skip
_ALL_KINDS = frozenset().union(*KINDS.values())

_TRIM = re.compile(r"\b(trim\w*|barefoot|bare|ausschneiden|parage|parer|recorte|bekappen)\b")
_RESET = re.compile(r"\b(reset\w*|refit\w*|re-?shoe|umlegen|referrer|relevage)\b")
_PULL = re.compile(r"\b(pull(ed)?|shoes? off|remove\w*|abnehmen|deferrer)\b")
_LOST = re.compile(r"^\W*(lost|cast|thrown|verlorene\w*|perdu)\b|\b(lost|cast) shoe\b")
_FRONT = re.compile(r"\b(fronts?|fores?|half set|2 shoes|two shoes|vorne|avant|delanter\w*)\b")
_TRIM_HALF = re.compile(r"trim (?:(fronts?|fores?)|(hinds?|backs?))(?: only)?")
_HIND = re.compile(r"\b(hinds?|backs?|hinten|arriere|traser\w*)\b")
_FULL = re.compile(
    r"\b(full( set)?|set of 4|4 shoes|four shoes|all (4|four|round)|shoes?|shod|set|beschlag\w*"
    r"|ferrage|ferrure|herrado|beslaan|4)\b"
)
_EXTRA = re.compile(
    r"\b(pads?|drill|tap|studs?|bar shoe|pour|packing|glue|trip|call out|mile(age)?|clips?|borium"
    r"|travel|fee|anfahrt|sedation|x-?rays?)\b"
)


def like_kind(words: str | None) -> str | None:
    """Give the kind of horse some words mean, or None where they mean none or several.

    A cross counts as what it is named after (``WB x`` is a sport horse).
    Source: docs/rules/interchange.md#kinds-of-horse
    """
    found = {kind for word in _words(words) for kind, names in KINDS.items() if word in names}
    if "draft" in found and len(found) > 1:
        found = {"draft"}
    return found.pop() if len(found) == 1 else None


def kinds_apart(words: str) -> tuple[str, tuple[str, ...]]:
    """Take the kinds of horse out of what a price is for: ``Mini / pony trim`` is trim, twice.

    Source: docs/rules/interchange.md#kinds-of-horse
    """
    kinds = tuple(
        word for word in re.findall(r"[^\W\d_]+", words) if search_key(word) in _ALL_KINDS
    )
    rest = words
    for kind in kinds:
        rest = re.sub(rf"\b{re.escape(kind)}\b", "", rest)
    rest = " ".join(rest.split()).strip(" /,&+-()")
    rest = re.sub(r"^(?:[/,&]\s*)+", "", rest)
    return (rest[:1].upper() + rest[1:], kinds) if rest else (words, ())


def feet_of(words: str | None) -> tuple[str | None, str | None]:
    """Say what work does to fronts and hinds: new, reset, trim, pulled or none.

    Words that only name an extra, or nothing known, give None for both.
    Source: docs/rules/interchange.md#work
    """
    text = search_key(words)
    lost = _LOST.search(text)
    text = re.split(r"\b(?:lost|cast|threw)\b", text)[0] if text and not lost else text
    if not text:
        return None, None
    if lost:
        return "none", "none"
    if _PULL.search(text):
        return "pulled", "pulled"
    first = _EXTRA.search(text)
    work = text[: first.start()] if first else text
    if half := _TRIM_HALF.fullmatch(work.strip()):
        return ("trim", "none") if half[1] else ("none", "trim")
    trim, front, hind = _TRIM.search(work), _FRONT.search(work), _HIND.search(work)
    done = "reset" if _RESET.search(work) else "new"
    if front and not (hind and not trim):
        return done, "trim"
    if hind and not front and not trim:
        return "trim", done
    if done == "reset" or _FULL.search(work):
        return done, done
    if front and hind:
        return done, done
    return ("trim", "trim") if trim else (None, None)


@dataclass(frozen=True, slots=True)
class Size:
    """A shoe size as written; ``lost_zeros`` where a number may have been 00 or 000."""

    size: str
    pattern: str | None
    lost_zeros: bool = False


def read_size(value: Value) -> Size | None:
    """Read a shoe size: its number, then what kind of shoe (``2 QC``, ``1 SC``, ``0 rim``).

    A 0 typed as a number may have been 00: a spreadsheet drops the zeros. ``½`` sizes stay text.
    Source: docs/rules/interchange.md#sizes
    """
    text = said(value)
    if text is None or text.casefold() in ("bare", "barefoot", "trim", "no", "barhuf"):
        return None
    found = re.fullmatch(r"(?:size\s*|#\s*)?(\d[\dx./½]*)\b\s*[-,]?\s*(.*)", text, re.IGNORECASE)
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if found is None:
        return Size(text, None)
    return Size(found[1].rstrip("."), found[2].strip() or None, number and found[1] == "0")


def shoes_of(front: Size | None, hind: Size | None, nails: Value) -> tuple[BroughtShoe, ...]:
    """Give what each foot wears from the sizes of a pair of fronts and a pair of hinds."""
    kind = said(nails)
    return tuple(
        BroughtShoe(foot, size.size, size.pattern, kind)
        for foot in Foot
        for size in [front if foot.front else hind]
        if size is not None
    )


_FLAGS = (
    ("kicks", r"kick\w*|cow.?kick|schlagt|rue\b"),
    ("two_people", r"two people|2 people|second person|helper|holder|zu zweit|2 pers"),
    ("sedation", r"sedat\w*|sedier\w*|dope|vet there"),
    ("do_not_tie", r"do not tie|don'?t tie|not tie|pulls back|nicht anbinden"),
    ("head_shy", r"head ?shy|kopfscheu"),
    ("leans", r"leans?\b|lehnt"),
    ("other", r"bites?|rears?|ducks?|snatch\w*|spook\w*|strikes?|careful|danger\w*|beisst|mord\b"),
)


def flags_of(notes: str | None) -> tuple[tuple[str, str], ...]:
    """Find the handling notes among remarks: those that must be read before a horse is started.

    Source: docs/rules/interchange.md#remarks
    """
    text = search_key(notes)
    found = [flag for flag, words in _FLAGS if re.search(rf"\b(?:{words})", text)]
    return tuple((flag, notes or "") for flag in found)


_TOOLS = (
    ("rasp", r"rasp\w*|feile"),
    ("knife", r"kni(fe|ves)|loop|messer|couteau|cuchillo"),
    ("nippers", r"nipper\w*|zange|pince\w*"),
    ("clinchers", r"clinch\w*"),
    ("hammer", r"hammer\w*|marteau"),
    ("stand", r"stands?|bock|jack"),
    ("forge", r"forge|esse"),
    ("gas", r"gas|propane|tank|cylinder|hose|bottle"),
)
_STOCK = (
    ("nail", r"nails?|(?:huf)?nagel|clou\w*|clavos?"),
    ("shoe", r"shoes?|hufeisen|eisen|fers?|herraduras?|aluminium|keg"),
    ("pad", r"pads?|sohlen?|plaques?|plantillas?"),
    ("packing", r"packing|pour.?in|silicone|hoof putty|polster"),
    ("rasp", r"rasps?|rape"),
)


def tool_sort(words: str) -> str:
    """Say what sort of tool some words name; ``other`` if none that is known."""
    return _sort(words, _TOOLS)


def stock_sort(words: str) -> str:
    """Say what sort of stock some words name; ``other`` if none that is known."""
    return _sort(words, _STOCK)


def _sort(words: str, sorts: tuple[tuple[str, str], ...]) -> str:
    text = search_key(words)
    return next((sort for sort, names in sorts if re.search(rf"\b(?:{names})\b", text)), "other")


_METHODS = (
    ("cheque", r"che(ck|que)|chk|ck|chq|scheck"),
    ("card", r"card|credit|debit|visa|karte|ec|carte|tarjeta|pin"),
    ("app", r"app|phone"),
    ("transfer", r"transfer|bank|wire|bacs|ach|online|uberweisung|virement|transferencia"),
    ("cash", r"cash|bar|especes|liquide|efectivo|contant"),
)


def method_of(value: Value) -> str | None:
    """Say how something was paid: cash, card, transfer, cheque, app or other; None if not said."""
    text = said(value)
    if text is None:
        return None
    return _sort(text, _METHODS)


def terms_of(value: Value) -> tuple[str | None, int | None]:
    """Read when a client is billed, and the days until it is due: ``net 15``, ``monthly``.

    Source: docs/rules/interchange.md#terms
    """
    text = search_key(said(value))
    days = re.search(r"\b(\d{1,3})\s*(?:days?|tage|jours|dias|d\b)|net\s*(\d{1,3})\b", text)
    within = int(days[1] or days[2]) if days else None
    when = {
        "on_the_spot": r"on the (day|spot)|same day|at once|cash|sofort|bar|comptant|contado",
        "weekly": r"week|wochent|hebdo|seman",
        "monthly": r"month|monat|mensu|mois|mes\b|maand",
        "tonight": r"tonight|evening|abend",
    }
    found = next((name for name, words in when.items() if re.search(words, text)), None)
    return found, within


def cycle_of(value: Value, heading: str) -> tuple[int | None, str]:
    """Read how often a horse is due, in days, and say with a code what was chosen.

    Weeks, unless the heading or the cell says days or the number is above 20. Of a range or of
    two seasons the shortest is taken: too early can be put off.
    Units: days.
    Source: docs/rules/interchange.md#how-often
    """
    text = search_key(said(value))
    if isinstance(value, float) and not value.is_integer():
        return None, "read.unread.cycle_unreadable"
    numbers = [int(number[:4]) for number in re.findall(r"\d+", text, re.ASCII)]
    if not text:
        return None, ""
    if not numbers or not 0 < min(numbers) <= max(numbers) <= 400:
        return None, "read.unread.cycle_unreadable"
    days = re.search(r"\b(days?|tage?|jours?|dias?)\b", f"{text} {search_key(heading)}")
    least = min(numbers)
    code = "read.changed.cycle_shortest" if len(set(numbers)) > 1 else ""
    return (least if days or least > 20 else 7 * least), code


def _words(text: str | None) -> list[str]:
    return re.findall(r"[^\W\d_]+", search_key(text))


def own_place(words: str) -> bool:
    """Say whether a barn is only called the client's own place."""
    return search_key(plain_text(words)) in {
        "own place", "own barn", "own yard", "home", "at home", "his place", "her place", "private",
        "zu hause", "zuhause", "eigener stall", "chez lui", "chez elle", "en casa",
    }  # fmt: skip
