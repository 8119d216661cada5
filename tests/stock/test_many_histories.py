"""The lot rule through the service, over many histories on each engine; FULL=1 for more."""

import os
from contextlib import suppress

from backoffice.db import Database
from backoffice.practice.models import Place
from backoffice.stock import checks, service
from backoffice.stock.rules import ItemDetails
from tests.stock.naive import PLACES, Naive, random_history
from tests.stock.test_histories import Dropped, Ledger

HISTORIES = 2_000 if os.environ.get("FULL") == "1" else 500


def test_many_histories_on_each_engine_end_where_the_plain_stock_room_does(
    both: Database,
) -> None:
    for seed in range(HISTORIES):
        history = random_history(seed)[:20]
        with suppress(Dropped), both.writing() as unit:
            session = unit.session
            session.add_all(
                Place(id=place, name=f"truck {place}", sort="truck", hidden=False)
                for place in PLACES
            )
            item = service.save_item(session, ItemDetails(sort="nail", name="nail", pack=250))
            ledger, naive = Ledger(session, item), Naive()
            for step in history:
                ledger.do(step)
                naive.do(step)

            assert ledger.state() == naive.state(), seed
            assert list(checks.check(session)) == [], seed
            raise Dropped
