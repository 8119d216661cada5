"""Writing a document down: numbered without a gap, frozen, chained."""

import secrets
from collections.abc import Sequence

from sqlalchemy import select
from sqlalchemy.orm import Session

from backoffice.billing import queries, rules
from backoffice.billing.models import Document, DocumentLine, DocumentTax, Particulars, Series
from backoffice.db import insert_or_nothing
from backoffice.errors import Refused
from backoffice.practice.rules import PracticeDetails

LARGEST_NUMBER = 99_999_999
_SORTS = {"bills": "invoice", "corrections": "credit", "opening": "opening"}


def series_of(session: Session, name: str, first_no: int | None) -> Series:
    """Give a series under its lock; its first number is chosen once.

    Raises: Refused if it is the first one and no number was chosen.
    """
    row = session.scalars(select(Series).where(Series.name == name).with_for_update()).one_or_none()
    if row is not None:
        return row
    if first_no is None or not 1 <= first_no <= LARGEST_NUMBER:
        raise Refused("billing.first_number", field="first_no")
    insert_or_nothing(
        session,
        Series,
        name=name,
        first_no=first_no,
        last_no=first_no - 1,
        last_hash=rules.CHAIN_START,
    )
    return session.scalars(select(Series).where(Series.name == name).with_for_update()).one()


def freeze(
    session: Session,
    series: Series,
    body: rules.Body,
    particulars: rules.Particulars,
    *,
    entry_id: int,
    client_id: int,
    credits_id: int | None = None,
) -> Document:
    """Write both halves of a document down under the next number, sealed to the one before."""
    text, salt = rules.particulars_text(particulars), secrets.token_hex(32)
    digest = rules.digest(salt, text)
    frozen = rules.body_text(body)
    seal = rules.chain(series.last_hash, body.no, frozen, digest)
    document = Document(
        entry_id=entry_id,
        series=series.name,
        no=body.no,
        sort=_SORTS[series.name],
        client_id=client_id,
        issued=body.issued,
        due=body.due or body.issued,
        net=body.totals.net,
        tax=body.totals.tax,
        gross=body.totals.gross,
        rounding=body.totals.rounding,
        credits_id=credits_id,
        body=frozen,
        digest=digest,
        prev=series.last_hash,
        hash=seal,
    )
    session.add(document)
    series.last_no, series.last_hash = body.no, seal
    session.flush()
    session.add(Particulars(document_id=document.id, text=text, salt=salt))
    return document


def add_lines(
    session: Session,
    document: Document,
    lines: Sequence[queries.ReadyLine | queries.OldLine | DocumentLine],
    totals: rules.Totals,
) -> None:
    """Write the lines and the tax of a document down."""
    session.add_all(
        DocumentLine(
            document_id=document.id,
            sort=document.sort,
            share_id=line.share_id,
            client_id=document.client_id,
            net=line.net,
            quoted=line.quoted,
            category=line.category,
            rate_ppm=line.rate_ppm,
            credits_line_id=line.id if isinstance(line, DocumentLine) else None,
        )
        for line in lines
    )
    session.add_all(
        DocumentTax(
            document_id=document.id,
            category=tax.category,
            rate_ppm=tax.rate_ppm,
            base=tax.base,
            tax=tax.tax,
        )
        for tax in totals.taxes
    )
    session.flush()


def lines_of(*texts: str | None) -> tuple[str, ...]:
    """Give texts as the lines of a printed address."""
    return tuple(
        line.strip() for text in texts for line in (text or "").splitlines() if line.strip()
    )


def seller_of(business: PracticeDetails, totals: rules.Totals) -> rules.Seller:
    """Give the practice as it stands today, for a document with these totals."""
    outside = all(tax.category == rules.TaxCategory.OUTSIDE for tax in totals.taxes)
    return rules.Seller(
        name=business.name,
        address=lines_of(business.address, business.phone, business.email),
        tax_id="" if outside else business.tax_number,  # EN 16931 BR-O-02
        pay_to=lines_of(business.how_to_pay),
    )
