"""An item and what each place holds of it, in words."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from backoffice.stock.queries import ItemCard
from backoffice.stock.rules import ItemDetails, in_packs
from backoffice.web.caller import caller


def in_words(qty: int, pack: int, sort: str) -> str:
    """Say a quantity as people count it."""
    code, facts = in_packs(qty, pack, sort)
    return caller().speech.say(code, **facts)


def counted_by(details: ItemDetails) -> int:
    """Give how many singles people count as one: a pair of shoes, a box of nails."""
    return 2 if details.sort == "shoe" else details.pack


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceOf:
    """What one place holds, in words."""

    id: int
    name: str
    says: str
    value: int
    counted_since: date | None


def title_of(details: ItemDetails) -> str:
    """Give an item's name with its size."""
    return f"{details.name} {details.size_text}".strip()


def places_of(card: ItemCard, names: Sequence[tuple[int, str]]) -> tuple[PlaceOf, ...]:
    """Say what each of these places holds of an item."""
    say, held = caller().speech.say, {place.place_id: place for place in card.places}

    def says(place_id: int) -> str:
        place = held.get(place_id)
        if place is None or not place.counted:
            return say("stock.not_counted")
        return in_words(place.qty, card.details.pack, card.details.sort)

    return tuple(
        PlaceOf(
            id=place_id,
            name=name,
            says=says(place_id),
            value=held[place_id].value if place_id in held else 0,
            counted_since=held[place_id].counted_since if place_id in held else None,
        )
        for place_id, name in names
    )
