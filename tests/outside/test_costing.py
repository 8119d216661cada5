"""Does stock cost what the textbook says it costs?

Source of the figures: OpenStax, *Principles of Accounting, Volume 1: Financial Accounting* (2019),
sections 10.1 to 10.3, the GPS tracker example. Mark: *verified*, that is read in the text and
recomputed. All amounts there are dollars; here they are cents.
"""

from collections.abc import Sequence
from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from backoffice.daybook import service as daybook
from backoffice.db import Database
from backoffice.practice.models import Place
from backoffice.stock import queries, rules, service
from backoffice.stock.rules import Draw, ItemDetails, Left, Shelf, Use
from backoffice.stock.service import Arrival
from tests.conftest import TODAY

# July: 150 at 21.00; sell 120; buy 225 at 27.00; sell 180; buy 210 at 33.00; 285 stay.
FIRST, SECOND, THIRD = Left(1, 150, 315_000), Left(2, 225, 607_500), Left(3, 210, 693_000)
JULY = (FIRST, 120, SECOND, 180, THIRD)
AVAILABLE = 1_615_500
REVENUE = 120 * 3600 + 180 * 3900


def kept(events: Sequence[Left | int]) -> tuple[Shelf, list[int]]:
    """Record purchases and sales in this order; give what stays and the cost of each sale."""
    shelf, costs = Shelf(item_id=1, place_id=1, counted=True), []
    for event in events:
        if isinstance(event, Left):
            shelf, _ = rules.arrive(shelf, event, "arrive")
        else:
            use = Use(id=len(costs) + 1, entry_id=1, item_id=1, place_id=1, qty=event, why="work")
            taken = rules.take(shelf, use)
            shelf = taken.shelf
            costs.append(taken.cost)
    return shelf, costs


def periodic(events: Sequence[Left | int]) -> tuple[int, int]:
    """Cost all sales of a period at its end; give cost of sales and closing stock."""
    bought = [event for event in events if isinstance(event, Left)]
    sold = sum(event for event in events if isinstance(event, int))
    shelf, costs = kept([*bought, sold] if sold else bought)
    return sum(costs), worth(shelf)


def worth(shelf: Shelf) -> int:
    return sum(left.cost for left in shelf.lots)


def test_first_in_first_out_costs_what_the_textbook_says(both: Database) -> None:
    """Section 10.3, perpetual first in first out (verified): sales cost 2,520 and 4,680
    (30 at 21 and 150 at 27), together 7,200; 8,955 stays (75 at 27 and 210 at 33); gross margin
    4,140. One figure description there prints 8,895 for 8,955; its text has 8,955."""
    costs = []
    with both.writing() as unit:
        session = unit.session
        session.add(Place(id=1, name="Shop", sort="shop", hidden=False))
        item = service.save_item(session, ItemDetails(sort="other", name="Tracker"))
        entry = daybook.record(session, "delivery", TODAY)
        service.count(session, entry, item, 1, 0, TODAY)
        for event in JULY:
            entry = daybook.record(session, "delivery", TODAY)
            if isinstance(event, Left):
                arrival = Arrival(item_id=item, place_id=1, qty=event.qty, cost=event.cost)
                service.receive(session, entry, [arrival])
            else:
                costs.append(service.draw(session, entry, [Draw(item, 1, event)])[0].cost)
    with both.reading() as session:
        card = queries.item_card(session, item)

    assert costs == [252_000, 468_000]
    assert sum(costs) == 720_000
    assert [(left.qty, left.cost) for left in card.left] == [(75, 202_500), (210, 693_000)]
    assert sum(left.cost for left in card.left) == 895_500
    assert REVENUE - sum(costs) == 414_000


def test_told_which_delivery_was_sold_the_cost_is_that_delivery_s() -> None:
    """Section 10.3, specific identification (verified): 120 and 20 of the first purchase and
    160 of the second cost 2,520 and 4,740, together 7,260; 8,895 stays (10 at 21, 65 at 27, 210 at
    33). The program itself always sells the oldest first; the rule takes the picks as they are."""
    left = {1: FIRST, 2: SECOND, 3: THIRD}
    costs = []
    for lot, qty in ((1, 120), (1, 20), (2, 160)):
        shelf, _ = kept([left[lot]])
        use = Use(id=1, entry_id=1, item_id=1, place_id=1, qty=qty, why="work")
        taken = rules.take(shelf, use)
        left[lot] = taken.shelf.lots[0]
        costs.append(taken.cost)

    assert (costs[0], costs[1] + costs[2]) == (252_000, 474_000)
    assert [(part.qty, part.cost) for part in left.values()] == [
        (10, 21_000),
        (65, 175_500),
        (210, 693_000),
    ]
    assert sum(part.cost for part in left.values()) == 889_500


def test_costed_at_the_end_of_the_period_it_is_the_same() -> None:
    """Section 10.2, periodic first in first out (verified): cost of sales 7,200, closing
    stock 8,955. Perpetual and periodic agree because the events are recorded in date order."""
    shelf, costs = kept(JULY)

    assert periodic(JULY) == (720_000, 895_500) == (sum(costs), worth(shelf))


def test_recorded_out_of_order_it_need_not_be_the_same() -> None:
    """First in is first recorded: what is entered late is never costed anew by its date."""
    second, first = replace(SECOND, lot_id=1), replace(FIRST, lot_id=2)
    _, costs = kept((second, 120, first, 180, THIRD))

    assert sum(costs) == 225 * 2700 + 75 * 2100


@st.composite
def in_date_order(draw: st.DrawFn, *, whole_cents: bool) -> list[Left | int]:
    """Purchases and sales, in date order, never more sold than bought."""
    events: list[Left | int] = []
    held = 0
    for lot in range(1, draw(st.integers(1, 8)) + 1):
        qty = draw(st.integers(1, 60))
        cost = draw(st.integers(0, 99)) * (qty if whole_cents else 1)
        events.append(Left(lot, qty, cost))
        held += qty
        sold = draw(st.integers(0, held))
        if sold:
            events.append(sold)
            held -= sold
    return events


@given(events=in_date_order(whole_cents=True))
def test_perpetual_is_periodic_for_anything_recorded_in_date_order(
    events: list[Left | int],
) -> None:
    """The textbook's identity (verified on its examples), for unit costs of whole cents: else each
    sale is rounded by itself, and the split between sales and stock may lie a cent apart."""
    shelf, costs = kept(events)

    assert periodic(events) == (sum(costs), worth(shelf))


@given(events=in_date_order(whole_cents=False))
def test_opening_and_purchases_are_cost_of_sales_and_closing_stock(
    events: list[Left | int],
) -> None:
    """The textbook's identity (verified on its examples): to the cent, whatever units cost."""
    shelf, costs = kept(events)
    bought = sum(event.cost for event in events if isinstance(event, Left))

    assert bought == sum(costs) + worth(shelf)
    assert all(cost >= 0 for cost in costs)


def test_the_month_of_the_textbook_loses_nothing() -> None:
    """Goods available for sale are 16,155 (verified)."""
    shelf, costs = kept(JULY)

    assert sum(costs) + worth(shelf) == AVAILABLE
    assert shelf.qty == 285
