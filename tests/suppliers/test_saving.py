"""Whatever is typed about a supplier comes back, or is refused beside its field."""

from dataclasses import replace

import pytest

from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.suppliers import queries, service
from backoffice.suppliers.queries import SupplierDetails

HOSTILE = (
    "\u202eQuill\u200fhaven", "<script>alert(1)</script>", "{{ 7*7 }}{% raw %}{0}",
    "=HYPERLINK(1)", "'; DROP TABLE supplier; --", "\"'><b>", "🐴\u200d Zoë", "x" * 200,
)  # fmt: skip


@pytest.mark.parametrize("text", HOSTILE)
def test_strange_text_comes_back_as_it_was_typed(both: Database, text: str) -> None:
    details = SupplierDetails(name=text, contact=f"{text}\n{text}")
    with both.writing() as unit:
        made = service.save_supplier(unit.session, details)
    with both.reading() as session:
        assert queries.supplier_card(session, made).details == replace(details, version=1)


@pytest.mark.parametrize(
    ("field", "text", "code"),
    [
        ("name", "a\0b", "text.control"),
        ("name", "x" * 201, "text.too_long"),
        ("contact", "a\0b", "text.control"),
        ("contact", "x" * 10_000, "text.too_long"),
    ],
)
def test_text_that_cannot_be_kept_is_refused_beside_its_field(
    database: Database, field: str, text: str, code: str
) -> None:
    details = replace(SupplierDetails(name="Ninebar Steel"), **{field: text})
    with pytest.raises(Refused) as refused, database.writing() as unit:
        service.save_supplier(unit.session, details)

    assert (refused.value.code, refused.value.field) == (code, field)


def test_a_supplier_that_is_gone_cannot_be_saved(database: Database) -> None:
    with pytest.raises(Refused, match=r"record\.missing"), database.writing() as unit:
        service.save_supplier(unit.session, SupplierDetails(name="Ninebar", version=1), 99)


def test_a_long_list_comes_in_pages_that_leave_nobody_out(both: Database) -> None:
    with both.writing() as unit:
        for number in range(201):
            service.save_supplier(unit.session, SupplierDetails(name=f"Supplier {number:03}"))
    with both.reading() as session:
        first, second = queries.supplier_list(session), queries.supplier_list(session, page=2)
        assert (len(first.rows), first.more) == (200, True)
        assert [card.details.name for card in second.rows] == ["Supplier 200"]
        assert queries.supplier_list(session, page=0).rows == first.rows
