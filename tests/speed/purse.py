"""The bills and the money of a growing practice, numbered and sealed as the program does it."""

import json
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from backoffice.billing import rules
from tests.speed.bulk import Bulk, evening

SELLER = rules.Seller(name="Garrow Forge", address=("Forge Lane 1",))


@dataclass(frozen=True)
class Owed:
    """One client's share of one line of a price."""

    client: int
    share: int
    net: int
    sort: str
    work: int
    horse: str


class Purse:
    """The one series of bills, what was paid, and what each client owes."""

    def __init__(self, bulk: Bulk, names: Mapping[int, str]) -> None:
        self.bulk, self.names = bulk, names
        self._seal, self._no = rules.CHAIN_START, 0
        self._owed: dict[int, int] = defaultdict(int)

    def bill(self, client: int, visit: int, day: date, owed: Sequence[Owed], *, last: date) -> None:
        """Issue a bill, hand it over, and take the money in, a third of it on the spot."""
        add = self.bulk.add
        lines = tuple(
            rules.DocumentLine(kind=one.sort, net=one.net, quoted=one.net, category="O", rate_ppm=0)
            for one in owed
        )
        totals = rules.totals(lines, includes_tax=False)
        due = day + timedelta(days=14)
        self._no += 1
        body = rules.body_text(
            rules.Body(
                series="", no=self._no, kind=rules.DocumentKind.INVOICE, issued=day, due=due,
                currency="USD", words="us", includes_tax=False, seller=SELLER, lines=lines,
                totals=totals,
            )
        )  # fmt: skip
        text = rules.particulars_text(
            rules.Particulars(
                buyer=(self.names[client],),
                lines=tuple(
                    rules.LineText(text=one.sort, horse=one.horse, day=day) for one in owed
                ),
            )
        )
        salt = f"{self._no:064x}"
        digest = rules.digest(salt, text)
        seal = rules.chain(self._seal, self._no, body, digest)
        document = add(
            "document", entry_id=self.bulk.entry(day, "issue"), series="bills", no=self._no,
            sort="invoice", client_id=client, issued=day, due=due, net=totals.net, tax=0,
            gross=totals.gross, rounding=0, body=body, digest=digest, prev=self._seal, hash=seal,
        )  # fmt: skip
        self._seal = seal
        add("particulars", document_id=document, text=text, salt=salt)
        for one in owed:
            add(
                "document_line", document_id=document, sort="invoice", share_id=one.share,
                client_id=client, net=one.net, quoted=one.net, category="O", rate_ppm=0,
            )  # fmt: skip
        add("document_tax", document_id=document, category="O", rate_ppm=0, base=totals.net, tax=0)
        handed = self.bulk.entry(day, "handing_over")
        add("document_event", document_id=document, entry_id=handed, sort="handed_over")
        paid = self._pay(client, visit, day, totals.gross, document, last)
        self._owed[client] += totals.gross - paid
        add("receivable", document_id=document, client_id=client, due=due, open=totals.gross - paid)

    def _pay(
        self, client: int, visit: int, day: date, amount: int, document: int, last: date
    ) -> int:
        """Take in what a bill asks, unless the day has not come, or nobody ever pays it."""
        on_the_spot = self._no % 3 == 0
        paid_on = day if on_the_spot else day + timedelta(days=self._no % 21)
        if paid_on >= last or self._no % 500 == 0:
            return 0
        method = "cash" if on_the_spot else ("card", "transfer", "cheque")[self._no % 3]
        fact_id = f"{visit}|paid|{client}" if on_the_spot else None
        if fact_id:
            data = {"client": client, "amount": amount, "tip": 0, "method": method, "receipt": None}
            self.bulk.add(
                "fact", id=fact_id, visit_id=visit, subject="", sort="paid", v=1, device="table",
                counter=9, recorded_at=evening(day), data=json.dumps(data, sort_keys=True),
            )  # fmt: skip
        entry_id = self.bulk.entry(paid_on, "payment")
        payment = self.bulk.add(
            "payment", entry_id=entry_id, client_id=client, amount=amount, tip=0, fee=0,
            method=method, fact_id=fact_id, visit_id=visit if fact_id else None,
        )  # fmt: skip
        self.bulk.add(
            "allocation", entry_id=entry_id, payment_id=payment, document_id=document,
            amount=amount,
        )  # fmt: skip
        return amount

    def finish(self) -> None:
        """Write down the last number and what each client owes."""
        self.bulk.add("series", name="bills", first_no=1, last_no=self._no, last_hash=self._seal)
        for client, owed in self._owed.items():
            self.bulk.add("balance", client_id=client, owed=owed)
