"""Bringing a practice's own workbook in: all of it or nothing, and each thing once."""

from collections.abc import Callable
from datetime import date

from sqlalchemy.orm import Session

from backoffice.errors import Refused
from backoffice.interchange.rules.brought import Brought
from backoffice.interchange.rules.report import Report, Tally
from backoffice.interchange.service.past import Past, bring_jobs, bring_owed, bring_spending
from backoffice.interchange.service.people import (
    bring_clients,
    bring_horses,
    bring_yards,
    with_sizes_noted,
)
from backoffice.interchange.service.things import (
    ServiceOf,
    SupplierOf,
    bring_prices,
    bring_stock,
    bring_tools,
)


def bring_in(
    session: Session,
    brought: Brought,
    *,
    today: date,
    progress: Callable[[str, int], None] = lambda _what, _rows: None,
) -> Report:
    """Bring in all that was understood of a workbook, and report what became of it.

    What is here already is known by its name, a horse by its name and client, a job by horse, day
    and words, a sum owed by client and reference. It stays as it is, and only what was not known of
    it is filled in; so a workbook brought in twice adds nothing, and a mended one what is new.
    Raises: Refused while a question of it is not answered.
    """
    if brought.doubts:
        raise Refused("bring.doubts", count=len(brought.doubts))
    tally = Tally()
    progress("client", 0)
    client_ids = bring_clients(session, brought.clients, tally)
    yard_ids = bring_yards(session, brought.yards, tally)
    service_of, supplier_of = ServiceOf(session, tally), SupplierOf(session)
    progress("price", 0)
    bring_prices(session, brought.prices, service_of, tally, today=today)
    progress("item", 0)
    bring_stock(session, brought.stock, supplier_of, tally, today=today)
    bring_tools(session, brought.tools, tally)
    progress("horse", 0)
    horses = with_sizes_noted(session, brought, tally)
    horse_ids = bring_horses(session, horses, client_ids, yard_ids, tally, today=today)
    progress("job", 0)
    past = Past(session, brought.horses, horse_ids, yard_ids, service_of, tally)
    bring_jobs(session, brought.jobs, past, tally, progress, today=today)
    progress("owed", 0)
    bring_owed(session, brought.owed, client_ids, tally, today=today)
    progress("spending", 0)
    bring_spending(session, brought.spending, supplier_of, tally, today=today)
    return tally.report(_sheets(brought), brought.notes)


def _sheets(brought: Brought) -> list[str]:
    sheets = [one.at.sheet for one in brought.clients] + [one.at.sheet for one in brought.yards]
    sheets += [one.at.sheet for one in brought.horses] + [one.at.sheet for one in brought.prices]
    sheets += [one.at.sheet for one in brought.stock] + [one.at.sheet for one in brought.tools]
    return sheets + [one.at.sheet for one in brought.jobs]
