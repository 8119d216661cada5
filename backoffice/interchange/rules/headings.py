"""What does a column mean? By the words of its heading, in several languages, and its values."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from backoffice.clients.rules import search_key
from backoffice.interchange.rules.brought import Value
from backoffice.interchange.rules.dates import SERIALS, month_named, read_day
from backoffice.interchange.rules.values import plain_text, read_amount, said

SOME_DAY = date(2026, 1, 1)


@dataclass(frozen=True, slots=True)
class Column:
    """A meaning a column may have: the words of its heading, the shape of its values, its weight.

    The weight says how telling it is for the kind of list. The words of ``titled`` count only
    where the title names the kind.
    """

    name: str
    words: str
    shape: str = "any"
    weight: int = 1
    titled: str = ""


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of list: its columns, those it needs (one of each group), and words of its title.

    A heading of ``never`` says that it is another kind.
    """

    columns: tuple[Column, ...]
    needs: tuple[tuple[str, ...], ...]
    title: str = ""
    never: str = ""


@dataclass(frozen=True, slots=True)
class Match:
    """A heading row taken for a kind of list: which column (counted from 0) means what.

    ``exact`` is how many headings are words of the list, not only contain one.
    """

    kind: str
    score: int
    exact: int
    columns: dict[str, int] = field(default_factory=dict)


_CLIENT = "client|clients|cust|customer|customers|owner|owners|kunde|kunden|kundin|besitzer|" \
    "halter|eigentumer|proprietaire|cliente|clientes|dueno|propietario|klant|klanten|eigenaar|" \
    "bill to|payer|who|rechnung an|account|who pays|paid by client"  # fmt: skip
_PHONE = "phone|tel|telephone|mobile|cell|handy|telefon|telefoon|telefono|portable|phone no|" \
    "phone number|mobil|gsm"  # fmt: skip
_EMAIL = "e-mail|email|mail|courriel|correo|e mail"
_YARD = "barn|yard|stable|stables|stall|stal|farm|location|ecurie|cuadra|ort|standort|place|" \
    "reitstall|premises|where"  # fmt: skip
_NOTES = "notes|note|remarks|remark|comments|comment|bemerkung|bemerkungen|notiz|notizen|" \
    "remarques|remarque|notas|observaciones|opmerking|handling|care|watch out"  # fmt: skip
_DATE = "date|day|datum|tag|jour|fecha|dia|dag|when|visit|done on|service date|invoice date"
_AMOUNT = "amount|charged|total|gross|charge|price|betrag|preis|montant|prix|importe|precio|" \
    "bedrag|prijs|amt|chgd|chg|fee|invoiced|billed|bill|brutto|cost|rechnung|sum|" \
    "summe|$|£|€"  # fmt: skip
_METHOD = "how|method|how paid|paid how|payment method|paid by|paid with|zahlart|bezahlt mit|" \
    "mode|moyen|forma de pago|type of payment|betaalwijze|zahlungsart"  # fmt: skip
_HORSE = "horse|horses|horse name|pferd|pferde|pferdename|cheval|chevaux|caballo|caballos|paard|" \
    "paarden|animal|equine|horse's name"  # fmt: skip
_WORK = "did|done|work|work done|service|job|what|what was done|leistung|arbeit|travail|" \
    "prestation|trabajo|servicio|werk|does|usual|usual work|description|shoeing|type of work|" \
    "treatment"  # fmt: skip

KINDS: dict[str, Kind] = {
    "clients": Kind(
        (
            Column("name", f"name|names|full name|nom|nombre|naam|contact|{_CLIENT}", "text", 2),
            Column("first", "first name|first|vorname|prenom|forename|voornaam", "text"),
            Column("last", "last name|surname|nachname|familienname|apellido|achternaam",
                   "text", 2),
            Column("phone", f"{_PHONE}|number", "phone", 4),
            Column("email", _EMAIL, "email", 3),
            Column("yard", _YARD, "text"),
            Column("address", "address|mailing address|adresse|anschrift|street|strasse|direccion|"
                   "adres|postal address|billing address|home", "text", 2),
            Column("terms", "terms|payment terms|pays|zahlung|zahlungsziel|conditions|bill when|"
                   "billing|abrechnung|pago", "text", 2),
            Column("horses", "horses|horse|pferde|pferd|chevaux|caballos|paarden", "text"),
            Column("notes", _NOTES, "any"),
        ),
        (("name", "last"), ("phone", "email", "address", "terms", "notes", "yard")),
        "clients|client list|customers|customer list|owners|kunden|kundenliste|contacts|adressen",
    ),
    "yards": Kind(
        (
            Column("name", f"name|{_YARD}|barn name|yard name", "text", 3),
            Column("address", "address|adresse|anschrift|street|direccion|adres|postcode", "text"),
            Column("miles", "miles|mi|mileage|distance|km|entfernung|kilometer|miles one way|"
                   "distance from home", "number", 3),
            Column("notes", _NOTES, "any"),
        ),
        (("name",), ("miles", "address")),
        "barns|yards|stables|stalle|ecuries|places|locations",
    ),
    "horses": Kind(
        (
            Column("name", f"name|{_HORSE}", "text", 2),
            Column("owner", f"{_CLIENT}|who pays", "text", 2),
            Column("phone", _PHONE, "phone", 0),
            Column("email", _EMAIL, "email", 0),
            Column("address", "address|adresse|anschrift|direccion|adres", "text", 0),
            Column("yard", _YARD, "text"),
            Column("kind", "kind|breed|type|rasse|race|raza|ras|type of horse|sort", "text", 3),
            Column("sizes", "size|sizes|shoe size|shoes|shoe|grosse|taille|talla|wears|eisen|"
                   "hufeisen|front/hind|f/h|fronts/hinds", "any", 3),
            Column("front", "front|fronts|front size|fore|front shoe|front shoes|vorne|avant|"
                   "delante|voor|fore size|vorderhuf", "size", 3),
            Column("hind", "hind|hinds|hind size|back|backs|hind shoe|hind shoes|hinten|arriere|"
                   "atras|achter|hinterhuf", "size", 3),
            Column("LF", "lf|left front|near fore|nf|fl|vl", "size", 3),
            Column("RF", "rf|right front|off fore|of|fr|vr", "size", 3),
            Column("LH", "lh|left hind|near hind|nh|hl", "size", 3),
            Column("RH", "rh|right hind|off hind|oh|hr", "size", 3),
            Column("nails", "nails|nail|nail size|nagel|clous|clavos|nagels", "any", 2),
            Column("usual", _WORK, "text"),
            Column("cycle", "every|every (wk)|cycle|weeks|interval|intervall|wochen|alle|semaines|"
                   "semanas|weken|wk|wks|how often|rhythmus|tage", "any", 3),
            Column("last", "last|last done|last visit|last shod|last trim|zuletzt|letzter termin|"
                   "letzter beschlag|dernier|dernier passage|ultima|laatst|last time", "date", 2),
            Column("notes", _NOTES, "any"),
        ),
        (("name",), ("owner", "kind", "front", "hind", "sizes", "LF", "cycle", "usual", "last")),
        "horses|horse list|pferde|pferdeliste|chevaux|caballos|paarden",
        never="charged|charged to",
    ),
    "prices": Kind(
        (
            Column("service", f"{_WORK}|item|extra|extras|job|leistungen", "text", 3),
            Column("kind", "horse|for|kind|type|breed|rasse|horse type", "text"),
            Column("price", "price|prices|preis|prix|precio|prijs|rate|fee|cost|charge|amount|$|£|"
                   "€|eur|each|betrag|tarif", "money", 3),
            Column("from", "from|since|valid from|ab|gultig ab|starting", "date"),
        ),
        (("service",), ("price",)),
        "prices|price list|preise|preisliste|tarifs|tarif|precios|rates",
        "date|datum|client|clients|customer|owner|kunde|cliente|klant|paid|paid on|bezahlt|balance",
    ),
    "stock": Kind(
        (
            Column("item", "what|item|article|product|description|artikel|article|producto|was|"
                   "material|bezeichnung|ware|stock|name|shoe|shoes|nail|nails", "text", 2),
            Column("size", "size|sizes|grosse|taille|talla|maat", "any", 2),
            Column("truck", "truck|in truck|van|in van|on hand|qty|quantity|count|have|stock|pairs|"
                   "boxes|menge|anzahl|bestand|quantite|cantidad|aantal|counted|on truck|auto|bus|"
                   "wagen", "count", 3),
            Column("shop", "shop|in shop|garage|store|workshop|home|lager|werkstatt|atelier|taller",
                   "count", 3),
            Column("cost", "cost|paid|price|unit cost|preis|ek|einkauf|einkaufspreis|prix|precio|"
                   "prijs|each|paid per pair", "money"),
            Column("pack", "comes in|pack|unit|packing|per|box|einheit|packung|unite|unidad|"
                   "eenheid|box of|pack size|ve", "any", 2),
            Column("supplier", "from|supplier|bought from|lieferant|fournisseur|proveedor|"
                   "leverancier|vendor", "text"),
            Column("", "re-order at|reorder|reorder at|minimum|min|order at|mindestbestand",
                   "any", 2),
        ),
        (("item", "size"), ("truck", "shop")),
        "stock|inventory|stock count|bestand|inventar|inventur|lager|inventaire|inventario|count",
    ),
    "tools": Kind(
        (
            Column("name", "tool|tools|werkzeug|outil|herramienta|gereedschap|equipment",
                   "text", 4),
            Column("make", "make|model|marke|modell|marque|marca|merk|which", "text"),
            Column("bought", "bought|purchased|bought on|date bought|gekauft|achete|comprado|year|"
                   "gekocht|since|age|jahr", "any", 2),
            Column("price", "cost|price|paid|preis|prix|precio|prijs|kosten", "money"),
            Column("notes", "since last sharpen / check|sharpened|last sharpened|condition|state|"
                   f"zustand|etat|estado|since last sharpen|checked|{_NOTES}", "any", 2),
        ),
        (("name",), ("bought", "price", "notes", "make")),
        "tools|werkzeuge|werkzeug|outils|herramientas",
    ),
    "jobs": Kind(
        (
            Column("day", _DATE, "date", 2),
            Column("horse", _HORSE + "|name", "text", 4),
            Column("client", _CLIENT, "text"),
            Column("what", _WORK, "text", 2),
            Column("amount", _AMOUNT, "money", 2),
            Column("paid", "paid|pd|received|bezahlt|paye|pagado|betaald|paid amount|payment|"
                   "gezahlt|recu|got", "any", 2),
            Column("method", _METHOD, "text"),
        ),
        (("day",), ("horse",), ("what", "amount")),
        "jobs|visits|work|diary|log|arbeiten|termine|visites|trabajos|journal|done",
    ),
    "spending": Kind(
        (
            Column("day", _DATE, "date", 2),
            Column("supplier", "paid to|supplier|vendor|payee|to|where|shop|lieferant|empfanger|"
                   "fournisseur|proveedor|leverancier|store|company|an wen|bezahlt an", "text", 3),
            Column("what", "for|what|what for|description|category|item|wofur|zweck|kategorie|"
                   "objet|concepto|omschrijving|expense|was|categorie|art", "text"),
            Column("amount", _AMOUNT + "|spent|ausgabe|paid|debit|paid out|out", "money", 2),
            Column("method", _METHOD, "text"),
            Column("", "receipt|receipt?|beleg|recu|kassenbon|recibo", "any", 2),
        ),
        (("day",), ("amount",), ("supplier", "what")),
        "money out|expenses|spending|costs|ausgaben|kosten|depenses|gastos|uitgaven|purchases",
        "client|clients|customer|customers|owner|horse|horses|kunde|pferd|cheval|cliente|caballo|"
        "klant|paard|invoice to|bill to",
    ),
    "owed": Kind(
        (
            Column("client", f"name|{_CLIENT}", "text", 2),
            Column("reference", "invoice|inv|inv no|invoice no|invoice number|bill|bill no|number|"
                   "no|ref|reference|rechnung|rechnungsnr|rechnung nr|facture|factura|factuur|nr",
                   "any", 2),
            Column("day", _DATE, "date"),
            Column("amount", "owed|owes|balance|outstanding|open|unpaid|amount due|still owed|due|"
                   "offen|offener betrag|saldo|du|solde|pendiente|openstaand|left", "money", 3,
                   _AMOUNT),
        ),
        (("client",), ("amount",)),
        "owed|unpaid|outstanding|open bills|debtors|owing|offene posten|offene rechnungen|impayes",
    ),
}  # fmt: skip

# Under a title of their own these need no more than the first of their columns.
_NAMES_WILL_DO = ("clients", "yards", "horses", "stock", "tools")
_WORDS = {word for kind in KINDS.values() for one in kind.columns for word in one.words.split("|")}


def heading_key(value: Value) -> str:
    """Give what is compared of a heading: small letters, no brackets, no sign at the end."""
    text = search_key(plain_text(value))
    return re.sub(r"\([^)]*\)", " ", text).strip(" :.*?#") or text


def is_heading(value: Value) -> bool:
    """Say whether a cell is, word for word, the heading of some column."""
    return isinstance(value, str) and not _keys(value).isdisjoint(_WORDS)


def _keys(head: Value) -> frozenset[str]:
    return frozenset((heading_key(head), search_key(plain_text(head)))) - {""}


def best_kinds(
    heads: Sequence[Value], below: Sequence[Sequence[Value]], title: str
) -> tuple[Match, ...]:
    """Score a heading row against every kind of list; best first, only those that have their needs.

    A column scores its weight times how well heading (exact 3, a word 2) and values agree; words
    of the title add. Source of the words: common practice, in English, German, French, Spanish and
    Dutch.
    Source: docs/rules/interchange.md#what-a-column-means
    """
    keys = [_keys(head) for head in heads]
    found = [match for kind in KINDS if (match := _matched(kind, keys, below, title))]
    return tuple(sorted(found, key=lambda match: -match.score))


def _matched(
    name: str, heads: Sequence[frozenset[str]], below: Sequence[Sequence[Value]], title: str
) -> Match | None:
    kind = KINDS[name]
    if any(not keys.isdisjoint(kind.never.split("|")) for keys in heads):
        return None
    named = any(word in f" {title} " for word in _phrases(kind.title))
    if named:
        kind = replace(kind, columns=tuple(_titled(column) for column in kind.columns))
    scores = sorted(
        (
            (-score, _rank(column, head), no, place)
            for place, column in enumerate(kind.columns)
            for no, head in enumerate(heads)
            if (score := _column_score(column, head, [row[no] for row in below])) > 0
        )
    )
    taken: dict[int, int] = {}
    for _, _, no, place in scores:
        if no not in taken.values() and place not in taken:
            taken[place] = no
    columns = {kind.columns[place].name: no for place, no in taken.items()}
    total = sum(
        -score * kind.columns[place].weight
        for score, _, no, place in scores
        if taken.get(place) == no
    )
    needs = kind.needs[:1] if named and name in _NAMES_WILL_DO else kind.needs
    if any(not (set(group) & set(columns)) for group in needs):
        return None
    if len(taken) < (1 if named and len(heads) == 1 else 2):
        return None
    exact = sum(_exact(kind.columns[place], heads[no]) for place, no in taken.items())
    columns.pop("", None)
    return Match(name, total + (8 if named else 0), exact, columns) if exact else None


def _rank(column: Column, keys: frozenset[str]) -> int:
    """Say how early among the words of a column a heading stands: a total before a price."""
    words = column.words.split("|")
    return min((words.index(key) for key in keys if key in words), default=len(words))


def _titled(column: Column) -> Column:
    return replace(column, words=f"{column.words}|{column.titled}") if column.titled else column


def _exact(column: Column, keys: frozenset[str]) -> bool:
    return not keys.isdisjoint(column.words.split("|"))


def _phrases(words: str) -> list[str]:
    return [f" {word} " for word in words.split("|")]


def _column_score(column: Column, keys: frozenset[str], values: Sequence[Value]) -> int:
    tokens = {token for key in keys for token in re.findall(r"[^\W_]+", key) if len(token) > 1}
    if not keys or max(map(len, keys)) > 40:
        return 0
    if _exact(column, keys):
        score = 3
    elif tokens & set(column.words.split("|")):
        score = 2
    elif column.shape == "email" and _share(values, "email") >= 60:
        score = 1
    else:
        return 0
    share = _share(values, column.shape)
    return score if share >= 50 else score - (1 if share >= 25 else 2)


def column_fits(values: Sequence[Value], shape: str) -> bool:
    """Say whether most of the values that are there have a shape."""
    return _share(values, shape) >= 50


def _share(values: Sequence[Value], shape: str) -> int:
    """Give how many in a hundred values that are there have a shape; none there is all."""
    there = [value for value in values if said(value) is not None]
    if not there or shape == "any":
        return 100
    return 100 * sum(fits(value, shape) for value in there) // len(there)


def fits(value: Value, shape: str) -> bool:
    """Say whether a value has a shape: date, money, number, count, size, phone, email or text."""
    text = plain_text(value)
    if shape == "date":
        if isinstance(value, int | float) and not isinstance(value, bool):
            return SERIALS.start <= value < SERIALS.stop
        return read_day(value, SOME_DAY, order="mdy").day is not None or (
            read_day(value, SOME_DAY, order="dmy").day is not None
        )
    if isinstance(value, date):
        return False
    if shape == "money":
        return read_amount(value, "USD").cents is not None or text.casefold() in ("ask", "free")
    if shape in ("number", "count"):
        return bool(re.search(r"\d|½|¼|¾|half|halb|none", text.casefold()))
    if shape == "size":
        return len(text) <= 16
    if shape == "phone":
        return len(re.sub(r"\D", "", text)) >= 5
    if shape == "email":
        return bool(re.fullmatch(r"\S+@\S+\.\S+", text))
    return bool(re.search(r"[^\W\d_]", text))


def is_month(value: Value) -> int | None:
    """Give the month a heading names (``Mar``, ``March 2026``, a date), or None."""
    if isinstance(value, date):
        return value.month
    if not isinstance(value, str):
        return None
    found = re.fullmatch(r"([^\W\d_]{3,})\.?\s*(?:'?\d{2}|\d{4})?", value.strip())
    return month_named(found[1]) if found else None
