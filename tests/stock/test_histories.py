"""Is no cent and no nail lost, whatever happens in whatever order?"""

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import replace

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings

from backoffice.daybook import service as daybook
from backoffice.db import Database, Session
from backoffice.money import half_up
from backoffice.practice.models import Place
from backoffice.stock import checks, rules, service
from backoffice.stock.models import Lot, LotLeft, OnHand, ShortUse, StockMove, StockUse
from backoffice.stock.rules import Draw, ItemDetails, Left, Shelf
from backoffice.stock.service import Arrival
from tests.conftest import TODAY
from tests.stock.naive import (
    PLACES,
    WASTE_PPM,
    Books,
    Naive,
    Step,
    histories,
    picked,
    random_history,
)


def run(history: Sequence[Step]) -> Books:
    books = Books()
    for step in history:
        books.do(step)
        books.holds()
    return books


@settings(max_examples=1_500, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(history=histories)
def test_the_rules_agree_with_a_stock_room_kept_the_plain_way(history: list[Step]) -> None:
    books, naive = Books(), Naive()
    for step in history:
        books.do(step)
        naive.do(step)

        books.holds()
        assert books.state() == naive.state()


def test_thousands_of_histories_lose_no_cent_and_no_nail() -> None:
    for seed in range(5_000):
        run(random_history(seed))


@settings(max_examples=300, deadline=None)
@given(history=histories)
def test_what_came_in_is_used_lost_or_still_there(history: list[Step]) -> None:
    """As an identity: opening and purchases are cost of sales, losses and closing stock."""
    books = run(history)
    standing = [use for use in books.uses if use.id not in books.undone]
    cost = {
        why: sum(
            -move.cost
            for use in standing
            if use.why == why
            for move in books.moves
            if move.use_id == use.id
        )
        for why in ("work", "waste", "loss")
    }
    before_any_count = sum(
        move.cost
        for move in books.moves
        if move.sort == "count" and not (move.lot_id or move.use_id)
    )
    came = before_any_count + sum(
        move.cost
        for move in books.moves
        if move.sort in ("arrive", "count") and move.lot_id and move.use_id is None
    )
    held = sum(left.cost for shelf in books.shelves.values() for left in shelf.lots)
    still_beyond = -sum(move.cost for move in books.moves if move.lot_id is None)

    assert came == sum(cost.values()) + held - still_beyond


def caught(seeds: int = 300, forget: Callable[[], None] = lambda: None) -> int:
    """Count the histories that do not hold."""
    found = 0
    for seed in range(seeds):
        forget()
        try:
            run(random_history(seed))
        except AssertionError:
            found += 1
    return found


def test_a_cumulative_share_that_is_rounded_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    whole: dict[int, Left] = {}

    def cumulative(lots: Sequence[Left], qty: int) -> tuple[tuple[Left, ...], tuple[Left, ...]]:
        gone, stays = [], []
        for left in lots:
            all_of_it = whole.setdefault(left.lot_id, left)
            some = min(qty, left.qty)
            used, qty = all_of_it.qty - left.qty, qty - some
            cost = half_up(all_of_it.cost * max(0, used + some), all_of_it.qty)
            cost -= half_up(all_of_it.cost * max(0, used), all_of_it.qty)
            if some:
                gone.append(Left(left.lot_id, some, cost))
            if some < left.qty:
                stays.append(Left(left.lot_id, left.qty - some, left.cost - cost))
        return tuple(gone), tuple(stays)

    monkeypatch.setattr(rules, "_out_of_lots", cumulative)

    assert caught(1_000, whole.clear) > 10


def test_an_average_cost_that_is_rounded_first_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rules, "share", lambda cost, left, qty: half_up(cost, left) * qty)

    assert caught() > 10


def test_a_true_up_forgotten_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    real = rules.arrive

    def forgetful(shelf: Shelf, part: Left, sort: str, use_id: int | None = None) -> rules.Happened:
        after, moves = real(replace(shelf, shorts=()), part, sort, use_id)
        return replace(after, shorts=shelf.shorts), moves

    monkeypatch.setattr(rules, "arrive", forgetful)

    assert caught() > 10


def test_the_planted_faults_were_the_only_ones() -> None:
    assert caught() == 0


class Ledger:
    """The service, driven by the steps of a history."""

    def __init__(self, session: Session, item_id: int) -> None:
        self.session, self.item_id = session, item_id

    def do(self, step: Step) -> None:
        verb, place, qty, cents = step
        session, item = self.session, self.item_id
        entry = daybook.record(session, "closing", TODAY)
        if verb == "receive":
            arrival = Arrival(item_id=item, place_id=place, qty=qty, cost=cents)
            service.receive(session, entry, [arrival])
        elif verb in ("draw", "both"):
            draws = [Draw(item, place, qty), Draw(item, 3 - place, qty + 1)]
            wanted = draws if verb == "both" else draws[:1]
            service.draw(session, entry, wanted, waste_ppm=WASTE_PPM)
        elif verb in ("undo", "undo_two"):
            standing = picked(self.standing(), cents, 2 if verb == "undo_two" else 1)
            service.undo(session, entry, standing)
        elif verb == "transfer":
            self.carry(entry, place, qty)
        else:
            service.count(session, entry, item, place, qty - 1, TODAY)

    def carry(self, entry: int, place: int, qty: int) -> None:
        held = sa.select(sa.func.coalesce(sa.func.sum(LotLeft.qty), 0)).where(
            LotLeft.place_id == place
        )
        some = min(qty, int(self.session.execute(held).scalar_one()))
        if some:
            service.transfer(self.session, entry, self.item_id, place, 3 - place, some)

    def standing(self) -> list[int]:
        undoing = sa.select(StockUse.undoes_id).where(StockUse.undoes_id.is_not(None))
        rows = sa.select(StockUse.id).where(
            StockUse.undoes_id.is_(None), StockUse.id.not_in(undoing)
        )
        return list(self.session.scalars(rows.order_by(StockUse.id)))

    def rank(self, statement: sa.Select[tuple[int]]) -> dict[int, int]:
        """Number rows from 1; PostgreSQL does not give a number twice when a history is dropped."""
        return {row: no for no, row in enumerate(self.session.scalars(statement), start=1)}

    def state(self) -> dict[str, object]:
        session = self.session
        lot = self.rank(sa.select(Lot.id).order_by(Lot.id))
        use = self.rank(
            sa.select(StockUse.id).where(StockUse.undoes_id.is_(None)).order_by(StockUse.id)
        )
        shelves = dict.fromkeys(PLACES, (0, 0, 0)) | {
            place: (qty, used, wasted)
            for place, qty, used, wasted in session.execute(
                sa.select(OnHand.place_id, OnHand.qty, OnHand.used, OnHand.wasted)
            )
        }
        left = session.execute(
            sa.select(LotLeft.lot_id, LotLeft.place_id, LotLeft.qty, LotLeft.cost).where(
                LotLeft.qty > 0
            )
        )
        owed = session.execute(sa.select(ShortUse.use_id, ShortUse.qty, ShortUse.cost))
        costs = session.execute(
            sa.select(StockMove.use_id, -sa.func.sum(StockMove.cost))
            .where(StockMove.use_id.is_not(None))
            .group_by(StockMove.use_id)
        )
        return {
            "on hand": {place: shelf[0] for place, shelf in shelves.items()},
            "left": {(lot[lot_id], place): (qty, cost) for lot_id, place, qty, cost in left},
            "owed": {use[use_id]: (qty, cost) for use_id, qty, cost in owed},
            "costs": {use[use_id or 0]: cost for use_id, cost in costs},
            "used": {place: shelf[1] for place, shelf in shelves.items()},
            "wasted": {place: shelf[2] for place, shelf in shelves.items()},
        }


class Dropped(Exception):
    """Ends a history without saving it."""


@settings(
    max_examples=100,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(history=histories)
def test_the_service_agrees_with_a_stock_room_kept_the_plain_way(
    both: Database, history: list[Step]
) -> None:
    with suppress(Dropped), both.writing() as unit:
        session = unit.session
        session.add_all(
            Place(id=place, name=f"truck {place}", sort="truck", hidden=False) for place in PLACES
        )
        item = service.save_item(session, ItemDetails(sort="nail", name="nail", pack=250))
        ledger, naive = Ledger(session, item), Naive()
        for step in history:
            ledger.do(step)
            naive.do(step)

            assert ledger.state() == naive.state()
            assert list(checks.check(session)) == []
        raise Dropped
