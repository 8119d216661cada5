"""Is every row of stock that does not hold found and named? On both databases."""

import pytest
import sqlalchemy as sa

from backoffice.stock import checks
from backoffice.stock.rules import Draw
from backoffice.words import Speech
from tests.stock.conftest import Room


def full(room: Room) -> None:
    """A bit of everything: counted and not, owed, trued up, wasted, taken back."""
    room.count(room.nail, room.truck, 0)
    room.receive(room.nail, room.truck, 250, 2500)
    room.draw(Draw(room.nail, room.truck, 40), waste_ppm=60_000)
    room.count(room.shoe, room.truck, 0)
    (drawn,) = room.draw(Draw(room.shoe, room.truck, 3))
    room.receive(room.shoe, room.truck, 20, 9000)
    room.undo(drawn.use_id)
    room.draw(Draw(room.shoe, room.truck, 25))
    room.draw(Draw(room.shoe, room.shop, 1))


def found(room: Room, *statements: str) -> set[str]:
    """Spoil rows as only a stray program could, and give what the check says."""
    with room.database.writing() as unit:
        for statement in statements:
            unit.session.execute(sa.text(statement))
    with room.database.reading() as session:
        broken = list(checks.check(session))
    assert all(Speech().say(one.code, **one.facts) for one in broken)
    return {one.code for one in broken}


MOVE = "INSERT INTO stock_move (id, entry_id, item_id, place_id, lot_id, use_id, sort, qty, cost) "
USE = "INSERT INTO stock_use (id, entry_id, item_id, place_id, qty, why, undoes_id) "


@pytest.mark.parametrize(
    ("code", "statement"),
    [
        ("broken.on_hand", "UPDATE on_hand SET qty = qty + 1 WHERE item_id = 1 AND place_id = 1"),
        ("broken.on_hand", "DELETE FROM on_hand WHERE item_id = 1 AND place_id = 2"),
        ("broken.lot_left", "UPDATE lot_left SET qty = qty + 1 WHERE item_id = 2"),
        ("broken.lot_left", "UPDATE lot_left SET cost = cost + 1 WHERE item_id = 2"),
        ("broken.lot_left", "DELETE FROM lot_left WHERE item_id = 2"),
        ("broken.lot_received", "INSERT INTO lot (id, entry_id, item_id, qty, cost) "
         "VALUES (90, 1, 2, 5, 100)"),
        ("broken.counted_shelf", "UPDATE on_hand SET qty = qty - 2 WHERE item_id = 2"),
        ("broken.short_use", "UPDATE short_use SET cost = cost + 1"),
        ("broken.short_use", "DELETE FROM short_use"),
        ("broken.short_use", "INSERT INTO short_use (use_id, item_id, place_id, qty, cost) "
         "VALUES (1, 2, 1, 3, 0)"),
        ("broken.used", "UPDATE on_hand SET used = used + 1 WHERE item_id = 2"),
        ("broken.used", "UPDATE on_hand SET wasted = 0 WHERE item_id = 2"),
        ("broken.use_moved", USE + "VALUES (90, 1, 2, 1, 5, 'loss', NULL)"),
        ("broken.use_moved", MOVE + "VALUES (90, 1, 2, 1, 2, 1, 'draw', -1, -10)"),
        ("broken.use_undone", MOVE + "VALUES (90, 1, 1, 1, NULL, 3, 'undo', 0, 5)"),
        ("broken.undoing", USE + "VALUES (90, 1, 2, 1, 5, 'work', 1)"),
        ("broken.undoing", USE + "VALUES (90, 1, 1, 1, 3, 'work', 4)"),
        ("broken.last_cost", "UPDATE on_hand SET last_cost = 1 WHERE item_id = 2"),
    ],
)  # fmt: skip
def test_a_row_that_does_not_hold_is_found(room: Room, code: str, statement: str) -> None:
    full(room)

    assert code in found(room, statement)


def test_what_holds_is_not_called_broken(room: Room) -> None:
    full(room)

    assert found(room) == set()


def test_every_check_has_its_sentence() -> None:
    facts = dict.fromkeys(
        (
            "item_id",
            "place_id",
            "lot_id",
            "use_id",
            "undoes_id",
            "qty",
            "cost_cents",
            "used",
            "wasted",
        ),
        1,
    )

    for code, _ in checks.CHECKS:
        assert Speech().say(code, **facts)
