"""What must hold of clients and horses, from the raw rows."""

from collections.abc import Iterator
from itertools import pairwise

from sqlalchemy import select
from sqlalchemy.orm import Session

from backoffice.clients.models import Client, Horse, HorseFlag, PayerPart, PayerSet
from backoffice.clients.rules import search_key
from backoffice.errors import Broken


def check(session: Session) -> Iterator[Broken]:
    """Find payers named twice or out of order, flags that end too soon, keys that find nothing."""
    yield from _payers(session)
    flags = select(HorseFlag.horse_id, HorseFlag.id).where(HorseFlag.until_day < HorseFlag.from_day)
    for horse_id, flag_id in session.execute(flags):
        yield Broken("broken.flag_ends_before", {"horse_id": horse_id, "flag_id": flag_id})
    clients = select(Client.id, Client.search_key, Client.name, Client.phone, Client.email)
    horses = select(Horse.id, Horse.search_key, Horse.name, Horse.words)
    for table, rows in (("client", clients), ("horse", horses)):
        for row_id, key, *texts in session.execute(rows.order_by(None)):
            if (key or "") != search_key(*texts):
                yield Broken("broken.search_key", {"table": table, "row_id": row_id})


def _payers(session: Session) -> Iterator[Broken]:
    rows = session.execute(
        select(PayerSet.horse_id, PayerSet.from_day, PayerPart.client_id, PayerPart.place_no)
        .join(PayerPart, PayerPart.set_id == PayerSet.id)
        .order_by(PayerSet.id, PayerPart.client_id)
    )
    for (horse, day, client, _), (next_horse, next_day, next_client, _) in pairwise(rows):
        if (horse, day, client) == (next_horse, next_day, next_client):
            yield Broken(
                "broken.payer_twice", {"horse_id": horse, "from_day": day, "client_id": client}
            )
