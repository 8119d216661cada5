"""Who we buy from, on both engines."""

from dataclasses import replace

import pytest

from backoffice.db import Database
from backoffice.errors import Refused
from backoffice.suppliers import queries, service
from backoffice.suppliers.queries import SupplierDetails


def test_suppliers_come_back_as_saved_by_name_and_hidden_ones_only_when_asked(
    both: Database,
) -> None:
    details = SupplierDetails(name="Ninebar Steel", contact="ask for Jory\n01 234")
    with both.writing() as unit:
        steel = service.save_supplier(unit.session, details)
        counter = service.save_supplier(unit.session, SupplierDetails(name="Gorsefield Counter"))
        service.save_supplier(unit.session, SupplierDetails(name="Old", hidden=True))
    with both.reading() as session:
        assert queries.supplier_card(session, steel).details == replace(details, version=1)
        assert [card.id for card in queries.supplier_list(session).rows] == [counter, steel]
        assert len(queries.supplier_list(session, hidden=True).rows) == 3
        assert queries.supplier_choices(session)[0] == (counter, "Gorsefield Counter")


def test_a_supplier_without_a_name_is_refused(database: Database) -> None:
    with pytest.raises(Refused) as refused, database.writing() as unit:
        service.save_supplier(unit.session, SupplierDetails(name=" "))

    assert refused.value.field == "name"


def test_a_supplier_changed_meanwhile_is_not_overwritten(both: Database) -> None:
    with both.writing() as unit:
        made = service.save_supplier(unit.session, SupplierDetails(name="Gorsefield"))
        read = queries.supplier_card(unit.session, made).details
    with both.writing() as unit:
        service.save_supplier(unit.session, replace(read, contact="new"), made)
    with pytest.raises(Refused, match=r"changed\.meanwhile"), both.writing() as unit:
        service.save_supplier(unit.session, replace(read, contact="late"), made)


def test_a_supplier_that_is_not_there_is_refused(database: Database) -> None:
    with database.reading() as session, pytest.raises(Refused, match=r"record\.missing"):
        queries.supplier_card(session, 99)
