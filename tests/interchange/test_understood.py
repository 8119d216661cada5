"""Are messy workbooks understood, and is it asked where a guess could be wrong?"""

from datetime import date, datetime
from pathlib import Path

import pytest

from backoffice.errors import Refused
from backoffice.units import Foot
from backoffice.words import UK, US
from tests.interchange.books_in import codes, from_rows, options_asked, saved, understood


def test_a_workbook_with_german_headings(tmp_path: Path) -> None:
    path = saved(
        tmp_path,
        {
            "Kunden": [
                ["Kundenliste Stand Oktober"],
                [],
                ["Nachname", "Vorname", "Telefon", "E-Mail", "Stall", "Zahlung"],
                ["Quast", "Almut", "0151 5550101", "almut@example.org", "Hof Sandkrug", "sofort"],
                ["Tiedke", "Jörn", 1515550102, None, "hof sandkrug", "14 Tage"],
            ],
            "Pferde": [
                [
                    "Pferd",
                    "Besitzer",
                    "Rasse",
                    "vorne",
                    "hinten",
                    "Nägel",
                    "alle (Wochen)",
                    "zuletzt",
                ],
                ["Ömchen", "Quast", "Kaltblut", "4", "3", "E6", 8, "3.10.2026"],
                [
                    "Blitz",
                    "Jörn Tiedke",
                    "Warmblut",
                    1,
                    "gleich",
                    "E5",
                    6,
                    datetime.fromisoformat("2026-11-02"),
                ],
            ],
            "Preise": [
                ["Leistung", "Preis"],
                ["Ausschneiden", "58,-"],
                ["Beschlag komplett", "1.175,50 €"],
            ],
            "Arbeiten": [
                ["Datum", "Pferd", "Kunde", "Arbeit", "Betrag", "bezahlt", "Zahlart"],
                ["31.10.2026", "Blitz", "Tiedke, Jörn", "Beschlag vorne", "120,00", "ja", "bar"],
                ["1.11.26", "Ömchen", None, "Ausschneiden", "58", "nein", None],
                ["Summe", None, None, None, "178"],
            ],
            "Ausgaben": [
                ["Datum", "Empfänger", "Wofür", "Betrag"],
                ["5.10.2026", "Eisenhandel", "Nägel", "1.022,50"],
            ],
        },
    )

    brought = understood(path, currency="EUR", unpaid="owed")

    assert [client.name for client in brought.clients] == ["Almut Quast", "Jörn Tiedke"]
    assert brought.clients[1].phone == "01515550102"
    assert [client.bill_when for client in brought.clients] == ["on_the_spot", None]
    assert brought.clients[1].terms_days == 14
    assert [yard.name for yard in brought.yards] == ["Hof Sandkrug"]
    heavy, sport = brought.horses
    assert (heavy.clients, heavy.like, heavy.cycle_days) == ((("Almut Quast", 1),), "draft", 56)
    assert (sport.like, sport.last_day) == ("sport", date(2026, 11, 2))
    assert {shoe.foot: shoe.size for shoe in sport.wears} == dict.fromkeys(Foot, "1")
    assert [price.amount for price in brought.prices] == [5800, 117550]
    assert [(job.day, job.client, job.amount, job.paid) for job in brought.jobs] == [
        (date(2026, 10, 31), "Jörn Tiedke", 12000, 12000),
        (date(2026, 11, 1), "Almut Quast", 5800, 0),
    ]
    assert (brought.jobs[0].fronts, brought.jobs[0].hinds) == ("new", "trim")
    assert [(owed.client, owed.amount) for owed in brought.owed] == [("Almut Quast", 5800)]
    assert brought.spending[0].amount == 102250
    assert brought.doubts == ()
    assert "unread.total_row" in codes(brought)


def test_a_semicolon_file_of_windows(tmp_path: Path) -> None:
    path = tmp_path / "Depenses 2026.csv"
    path.write_bytes(
        "Date;Fournisseur;Objet;Montant;Mode\r\n"
        "03/10/2026;Forge de l’Étang;fers;120,50;chèque\r\n"
        "14/10/2026;Garage Noël;pneus;1 022,00;carte\r\n".encode("cp1252")
    )

    brought = understood(path, currency="EUR")

    assert [(s.day, s.supplier, s.amount, s.paid_by) for s in brought.spending] == [
        (date(2026, 10, 3), "Forge de l’Étang", 12050, "cheque"),
        (date(2026, 10, 14), "Garage Noël", 102200, "card"),
    ]


def test_two_lists_under_each_other_and_one_beside(tmp_path: Path) -> None:
    path = saved(
        tmp_path,
        {
            "all": [
                ["My clients", None, None, None, "Barns"],
                ["Name", "Phone", "Address", None, "Barn", "Miles"],
                ["Fell, Orla", "555 0100", "1 Elm", None, "Gorse End", 12],
                ["Bram Roe", "555 0101", "2 Elm", None, "Nether Field", "7.5 mi"],
                ["Total", 2],
                [],
                ["Horses"],
                ["Horse", "Owner", "Size"],
                ["Tuppence", "Fell", "2 QC / 1"],
                ["Mister", "Roe", "00"],
            ],
        },
    )

    brought = understood(path)

    assert [client.name for client in brought.clients] == ["Orla Fell", "Bram Roe"]
    assert [(yard.name, yard.miles) for yard in brought.yards] == [
        ("Gorse End", 12),
        ("Nether Field", 8),
    ]
    tuppence, mister = brought.horses
    assert [(s.foot.value, s.size, s.pattern) for s in tuppence.wears] == [
        ("LF", "2", "QC"), ("RF", "2", "QC"), ("LH", "1", None), ("RH", "1", None),
    ]  # fmt: skip
    assert [shoe.size for shoe in mister.wears] == ["00", "00"]
    assert {"changed.name_turned", "changed.sizes_parted", "unread.total_row"} <= codes(brought)


@pytest.mark.parametrize(
    ("said", "read"),
    [
        ("days", [(date(2025, 1, 7), None), (date(2025, 3, 12), None), (date(2025, 2, 20), None)]),
        ("amounts", [(date(2025, 1, 1), 700), (date(2025, 3, 1), 1200), (date(2025, 2, 1), 2000)]),
        ("leave", []),
    ],
)
def test_a_year_on_one_sheet(
    tmp_path: Path, said: str, read: list[tuple[date, int | None]]
) -> None:
    path = saved(
        tmp_path,
        {
            "2025": [
                ["Horse", "Owner", "Jan", "Feb", "Mar"],
                ["Tuppence", "Orla Fell", 7, None, "12 trim"],
                ["Mister", "Bram Roe", None, "20", None],
            ],
        },
    )

    asked = understood(path)
    brought = understood(path, **{"cells:2025": said, "unpaid": "unknown"})

    assert options_asked(asked) == ["cells:2025"]
    assert asked.doubts[0].rows == 2
    assert [(job.day, job.amount) for job in brought.jobs] == read
    assert len(brought.horses) == 2


def test_days_written_out_in_a_year_on_one_sheet_need_no_question() -> None:
    brought = from_rows(
        [
            ["Horse", "January", "February", "March"],
            ["Tuppence", date(2026, 1, 9), "Feb 3", "x"],
        ],
        sheet="done 2026",
    )

    assert [job.day for job in brought.jobs] == [
        date(2026, 1, 9),
        date(2026, 2, 3),
        date(2026, 3, 1),
    ]
    assert options_asked(brought) == []
    assert "changed.month_only" in codes(brought)


def test_only_a_client_list(tmp_path: Path) -> None:
    path = saved(tmp_path, {"Sheet1": [["Clients"], ["ORLA FELL"], ["Roe, Bram"], ["Orla Fell"]]})

    brought = understood(path)

    assert [client.name for client in brought.clients] == ["Orla Fell", "Bram Roe"]
    assert (brought.horses, brought.jobs, brought.doubts) == ((), (), ())


def test_one_that_is_not_for_this_job_is_refused(tmp_path: Path) -> None:
    path = saved(
        tmp_path,
        {
            "Cup": [["Team", "Played", "Won", "Points"], ["Reds", 10, 7, 21], ["Blues", 10, 3, 9]],
            "Recipe": [["Flour", "500 g"], ["Butter", "250 g"]],
        },
    )

    with pytest.raises(Refused) as refused:
        understood(path)

    assert refused.value.code == "workbook.nothing_found"


def test_a_merged_cell_holds_for_all_rows_beside_it(tmp_path: Path) -> None:
    rows = [
        ["Date", "Horse", "Client", "Work", "Amount", "Paid"],
        ["2026-10-05", "Tuppence", "Orla Fell", "trim", 58, 58],
        [None, "Mister", None, "full set", 175, 175],
        ["2026-10-06", "Mister", "Orla Fell", "reset 4", 164, 164],
        [None, "Tuppence", None, "trim", 58, 58],
    ]
    path = saved(tmp_path, {"log": rows}, merged={"log": ["A2:A3", "C2:C3", "A4:A5", "C4:C5"]})

    brought = understood(path)

    assert [(job.day.day, job.horse, job.client) for job in brought.jobs] == [
        (5, "Tuppence", "Orla Fell"), (5, "Mister", "Orla Fell"),
        (6, "Mister", "Orla Fell"), (6, "Tuppence", "Orla Fell"),
    ]  # fmt: skip
    assert not any("carried" in code for code in codes(brought))


def test_an_empty_date_is_that_of_the_row_above_and_said_so() -> None:
    brought = from_rows(
        [
            ["Date", "Horse", "Client", "Work", "Amount", "Paid"],
            ["2026-10-05", "Tuppence", "Orla Fell", "trim", 58, 58],
            [None, "Mister", "Bram Roe", "trim", 58, 58],
        ]
    )

    assert [job.day for job in brought.jobs] == [date(2026, 10, 5)] * 2
    assert "changed.date_carried" in codes(brought)


def test_an_owner_over_empty_cells_is_asked_about() -> None:
    rows = [
        ["Horse", "Owner", "Breed"],
        ["Tuppence", "Orla Fell", "QH"],
        ["Mister", None, "pony"],
        ["Nettle", None, "pony"],
    ]

    asked = from_rows(rows)
    carried = from_rows(rows, **{"carry:Sheet1:Owner": "yes"})
    left = from_rows(rows, **{"carry:Sheet1:Owner": "no"})

    assert options_asked(asked) == ["carry:Sheet1:Owner"]
    assert [horse.clients for horse in carried.horses] == [(("Orla Fell", 1),)] * 3
    assert [horse.clients for horse in left.horses] == [(("Orla Fell", 1),), (), ()]


def test_a_surname_that_may_be_two_people_is_asked_once() -> None:
    rows = [
        ["Client", "Phone", "", ""],
        ["Orla Fell", "555 0100", None, None],
        ["Edda Fell", "555 0101", None, None],
        [],
        ["Horse", "Owner", "Breed", "Every (wk)"],
        ["Tuppence", "Mrs Fell", "QH", 6],
        ["Mister", "Fell", "pony", 6],
    ]

    asked = from_rows(rows)
    answered = from_rows(rows, **{"client:Fell": "Edda Fell", "client:Fell:Mister": "Orla Fell"})

    (doubt,) = asked.doubts
    assert (doubt.option, doubt.rows) == ("client:Fell", 2)
    assert doubt.choices == ("Orla Fell", "Edda Fell")
    assert [horse.clients[0][0] for horse in answered.horses] == ["Edda Fell", "Orla Fell"]
    assert answered.doubts == ()


def test_a_full_name_beside_the_horse_elsewhere_settles_a_surname() -> None:
    rows = [
        ["Client", "Phone", "Address", "", "", ""],
        ["Orla Fell", "555 0100", None, None, None, None],
        ["Edda Fell", "555 0101", None, None, None, None],
        [],
        ["Horse", "Owner", "Breed", "", "", ""],
        ["Tuppence", "Fell", "QH", None, None, None],
        [],
        ["Date", "Horse", "Client", "Work", "Amount", "Paid"],
        ["2026-10-05", "Tuppence", "Edda Fell", "trim", 58, 58],
    ]

    brought = from_rows(rows)

    assert brought.doubts == ()
    assert brought.horses[0].clients == (("Edda Fell", 1),)
    assert "changed.client_by_horse" in codes(brought)


def test_several_who_pay_for_one_horse() -> None:
    brought = from_rows(
        [
            ["Horse", "Owner", "Breed"],
            ["Tuppence", "Orla Fell 60 / Bram Roe 40", "QH"],
            ["Mister", "Orla Fell/Bram Roe", "QH"],
            ["Nettle", "Orla Fell & Bram Roe", "QH"],
            ["Thrift", "Ann & Tom Sedge", "QH"],
        ]
    )

    assert [horse.clients for horse in brought.horses] == [
        (("Orla Fell", 60), ("Bram Roe", 40)),
        (("Orla Fell", 1), ("Bram Roe", 1)),
        (("Orla Fell", 1), ("Bram Roe", 1)),
        (("Ann & Tom Sedge", 1),),
    ]
    assert "changed.parts_equal" in codes(brought)


def test_a_column_in_which_no_row_tells_month_from_day_is_a_question() -> None:
    rows = [
        ["Date", "Paid to", "For", "Amount"],
        ["01/02/26", "Northway", "nails", 22],
        ["03/04/26", "Northway", "nails", 23],
        ["05/05/26", "Northway", "nails", 24],
    ]

    asked = from_rows(rows)

    assert [(d.option, d.rows, d.choices) for d in asked.doubts] == [
        ("date-order", 2, ("mdy", "dmy"))
    ]


def test_one_row_above_twelve_decides_its_column_alone(tmp_path: Path) -> None:
    heads = ["Date", "Paid to", "For", "Amount"]
    path = saved(
        tmp_path,
        {
            "out A": [
                heads,
                ["01/02/26", "Northway", "nails", 22],
                ["13/02/26", "Northway", "x", 1],
            ],
            "out B": [
                heads,
                ["01/02/26", "Northway", "nails", 22],
                ["02/13/26", "Northway", "x", 1],
            ],
            "out C": [heads, ["01/02/26", "Northway", "nails", 22]],
        },
    )

    asked, told = understood(path), understood(path, date_order="dmy")

    assert options_asked(asked) == ["date-order"]
    assert [(s.at.sheet, s.day) for s in asked.spending if s.what == "nails"] == [
        ("out A", date(2026, 2, 1)), ("out B", date(2026, 1, 2)),
    ]  # fmt: skip
    assert told.spending[-1].day == date(2026, 2, 1)


def test_shoes_are_counted_in_pairs_or_singles_as_said(tmp_path: Path) -> None:
    path = saved(
        tmp_path,
        {
            "Inventory": [
                ["Item", "Size", "Truck", "Shop", "Cost", "Pack"],
                ["shoe", "00", 4, None, "10.50", "10 pr"],
                ["shoe", 0, "4 pairs + 1", 2, 10.5, None],
                ["nails", "5 slim", "1 1/2 box", "½", 23, "box 250"],
                ["nails", "6", 3, None, None, None],
                ["shoe", "1", -2, None, None, None],
            ],
        },
    )

    asked, pairs = understood(path), understood(path, shoes="pairs")

    assert [(doubt.option, doubt.rows) for doubt in asked.doubts] == [("shoes", 2)]
    assert [(item.truck, item.shop) for item in pairs.stock] == [
        (8, None), (9, 4), (375, 125), (None, None), (None, None),
    ]  # fmt: skip
    assert [(item.cost, item.cost_for) for item in pairs.stock[:3]] == [
        (1050, 2),
        (1050, 2),
        (2300, 250),
    ]
    assert {"find_out.size_zero", "find_out.pack_unknown", "unread.count_below_nothing"} <= codes(
        pairs
    )


def test_a_number_shown_with_zeros_is_the_text_that_is_shown(tmp_path: Path) -> None:
    from openpyxl import Workbook

    book = Workbook()
    sheet = book.worksheets[0]
    for row in (
        ["Horse", "Owner", "Front"],
        ["Tuppence", "Orla Fell", 0],
        ["Mister", "Bram Roe", 0],
    ):
        sheet.append(row)
    sheet["C2"].number_format = "00"
    book.save(tmp_path / "old.xlsx")

    brought = understood(tmp_path / "old.xlsx")

    assert [horse.wears[0].size for horse in brought.horses] == ["00", "0"]
    assert [n.at.address for n in brought.notes if n.code == "read.find_out.size_zero"] == ["C3"]


def test_what_is_still_owed_with_its_old_reference() -> None:
    brought = from_rows(
        [
            ["Unpaid bills"],
            ["Client", "Invoice no", "Date", "Open"],
            ["Fell, Orla", "2026-113", date(2026, 9, 1), "$1,250.00"],
            ["Bram Roe", None, "Sep 9, 2026", 58],
            ["Bram Roe", "2026-99", None, -5],
            ["Total", None, None, 1308],
        ]
    )

    assert [(o.client, o.reference, o.amount, o.day) for o in brought.owed] == [
        ("Orla Fell", "2026-113", 125000, date(2026, 9, 1)),
        ("Bram Roe", "2026-09-09", 5800, date(2026, 9, 9)),
    ]
    assert {
        "unread.amount_below_nothing",
        "unread.owed_unreadable",
        "changed.reference_made",
    } <= codes(brought)


def test_what_was_not_paid_is_asked_and_follows_the_answer() -> None:
    rows = [
        ["Date", "Horse", "Client", "Work", "Charged", "Paid"],
        ["2026-10-05", "Tuppence", "Orla Fell", "trim", 58, None],
        ["2026-10-05", "Mister", "Bram Roe", "full set", 175, 100],
        ["2026-10-05", "Nettle", "Bram Roe", "trim", 58, "yes"],
        ["2026-12-05", "Nettle", "Bram Roe", "trim", 58, None],
    ]

    asked, owed = from_rows(rows), from_rows(rows, unpaid="owed")
    settled, unknown = from_rows(rows, unpaid="settled"), from_rows(rows, unpaid="unknown")

    assert [(d.option, d.rows, d.facts["total_cents"]) for d in asked.doubts] == [
        ("unpaid", 2, 13300)
    ]
    assert [(o.client, o.amount) for o in owed.owed] == [("Orla Fell", 5800), ("Bram Roe", 7500)]
    assert [job.paid for job in owed.jobs] == [0, 10000, 5800]
    assert [job.paid for job in settled.jobs] == [5800, 17500, 5800]
    assert [job.paid for job in unknown.jobs] == [None, 10000, 5800]
    assert "unread.job_ahead" in codes(asked)


def test_a_horse_of_a_name_that_stands_with_somebody_else_is_asked_about() -> None:
    rows = [
        ["Horse", "Owner", "Breed", "", "", ""],
        ["Tuppence", "Orla Fell", "QH", None, None, None],
        [],
        ["Date", "Horse", "Client", "Work", "Amount", "Paid"],
        ["2026-10-05", "Tuppence", "Bram Roe", "trim", 58, 58],
        ["2026-10-06", "Mister", "Bram Roe", "trim", 58, 58],
    ]
    option = "horse:Tuppence:Bram Roe"

    asked, same = from_rows(rows), from_rows(rows, **{option: "Orla Fell"})
    other = from_rows(rows, **{option: "new"})

    assert options_asked(asked) == [option]
    assert [job.client for job in same.jobs] == ["Orla Fell", "Bram Roe"]
    assert [horse.name for horse in other.horses] == ["Tuppence", "Tuppence", "Mister"]
    assert "changed.horse_added" in codes(same)


def test_a_second_row_of_headings_names_the_columns_more_closely(tmp_path: Path) -> None:
    rows = [
        ["Horse", "Owner", "Shoes", None, "Remarks"],
        [None, None, "Front", "Hind", None],
        ["Tuppence", "Orla Fell", "00", 1, "bites"],
    ]

    brought = understood(saved(tmp_path, {"S": rows}, merged={"S": ["C1:D1"]}))

    assert [shoe.size for shoe in brought.horses[0].wears] == ["00", "00", "1", "1"]
    assert brought.horses[0].flags == (("other", "bites"),)
    assert len(brought.horses) == 1


def test_prices_with_a_row_for_each_kind_of_horse() -> None:
    brought = from_rows(
        [
            ["Type", "Trim", "Fronts", "Full set"],
            ["Light", 58, 120, "$175"],
            ["Draft", 105, 230, "ask"],
        ]
    )

    assert [(p.like, p.fronts, p.hinds, p.amount) for p in brought.prices] == [
        ("riding", "trim", "trim", 5800), ("riding", "new", "trim", 12000),
        ("riding", "new", "new", 17500), ("draft", "trim", "trim", 10500),
        ("draft", "new", "trim", 23000),
    ]  # fmt: skip


def test_a_name_alone_in_its_row_is_a_barn_an_owner_or_asked_about() -> None:
    rows = [
        ["Barn", "Miles", "", ""],
        ["Gorse End", 12, None, None],
        ["Horse", "Owner", "Breed", "Every (wk)"],
        ["Gorse End", None, None, None],
        ["Tuppence", "Orla Fell", "QH", 6],
        ["Mister", "Bram Roe", "QH", 6],
        ["Nether Field", None, None, None],
        ["Nettle", "Bram Roe", "QH", 6],
    ]

    asked, barn = from_rows(rows), from_rows(rows, **{"titles:Sheet1": "barn"})
    horse = from_rows(rows, **{"titles:Sheet1": "horse"})

    assert options_asked(asked) == ["titles:Sheet1"]
    assert [(h.name, h.yard) for h in barn.horses] == [
        ("Tuppence", "Gorse End"), ("Mister", "Gorse End"), ("Nettle", "Nether Field"),
    ]  # fmt: skip
    assert [h.name for h in horse.horses] == ["Tuppence", "Mister", "Nether Field", "Nettle"]


def test_several_horses_in_one_row_and_how_it_was_paid_in_place_of_how_much() -> None:
    brought = from_rows(
        [
            ["Horse", "Owner", "Breed", "", "", ""],
            ["Tuppence", "Orla Fell", "QH", None, None, None],
            ["Mister", "Orla Fell", "QH", None, None, None],
            ["Salt and Pepper", "Orla Fell", "QH", None, None, None],
            [],
            ["Date", "Horse", "Client", "Work", "Amount", "Paid"],
            ["10/17/2026", None, None, None, None, None],
            [None, "Tuppence, Mister", "Orla Fell", "trim", "115.01", "ck 1043"],
            [None, "Salt and Pepper", "Orla Fell", "trim", 58, "cash"],
        ]
    )

    assert [(job.day.day, job.horse, job.amount, job.paid, job.method) for job in brought.jobs] == [
        (17, "Tuppence", 5751, 5751, "cheque"),
        (17, "Mister", 5750, 5750, "cheque"),
        (17, "Salt and Pepper", 5800, 5800, "cash"),
    ]
    assert brought.doubts == ()


def test_a_sheet_for_each_client(tmp_path: Path) -> None:
    heads = ["Date", "Horse", "Work", "Amount", "Paid"]
    path = saved(
        tmp_path,
        {
            "Orla Fell": [heads, ["Oct 5 2026", "Tuppence", "trim", 58, "x"]],
            "Bram Roe": [heads, ["Oct 6 2026", "Mister", "trim", 58, "x"]],
            "Clients": [["Client", "Phone"], ["Orla Fell", "555 0100"]],
        },
    )

    asked, told = understood(path), understood(path, **{"sheet:Bram Roe": "yes"})

    assert options_asked(asked) == ["sheet:Bram Roe"]
    assert [job.client for job in told.jobs] == ["Orla Fell", "Bram Roe"]


def test_horses_named_in_the_client_list_and_sizes_foot_by_foot() -> None:
    brought = from_rows(
        [
            ["Surname", "First name", "Mobile", "Stable", "Horses", ""],
            ["FELL", "Orla", "555 0100", "Gorse End", "Tuppence, Mister", None],
            [],
            ["Horse", "Owner", "LF", "RF", "LH", "RH"],
            ["Tuppence", "Orla Fell", "1", "1 QC", None, "0"],
        ]
    )

    assert [(h.name, h.clients[0][0], h.yard) for h in brought.horses] == [
        ("Tuppence", "Orla Fell", None), ("Mister", "Orla Fell", "Gorse End"),
    ]  # fmt: skip
    assert [(s.foot.value, s.size, s.pattern) for s in brought.horses[0].wears] == [
        ("LF", "1", None), ("RF", "1", "QC"), ("RH", "0", None),
    ]  # fmt: skip


def test_a_heading_may_say_in_what_the_stock_is_counted() -> None:
    brought = from_rows([["Shoes", "Size", "Pairs"], ["steel", "00", 4]], sheet="count of shoes")

    assert [(item.sort, item.truck) for item in brought.stock] == [("shoe", 8)]
    assert brought.doubts == ()


def test_clients_and_their_horses_in_one_list() -> None:
    rows = [
        ["Client", "Tel", "Yard", "Horse", "Type", "Shoe size (f/h)", "Weeks"],
        ["Orla Fell", "01632 960001", "Gorse End", "Tuppence", "Cob", "2/1", 6],
        [None, None, None, "Mister", "Cob", "2/2", 6],
        ["Bram Roe", 1632960002, "Nether Field", "Nettle", "ID x", "5/4", "6-8"],
    ]

    brought = from_rows(rows, **{"carry:Sheet1:Client": "yes"})

    assert [(c.name, c.phone) for c in brought.clients] == [
        ("Orla Fell", "01632 960001"), ("Bram Roe", "01632960002"),
    ]  # fmt: skip
    assert [(h.name, h.clients[0][0], h.yard) for h in brought.horses] == [
        ("Tuppence", "Orla Fell", "Gorse End"), ("Mister", "Orla Fell", "Gorse End"),
        ("Nettle", "Bram Roe", "Nether Field"),
    ]  # fmt: skip


def test_a_bill_book_is_neither_money_out_nor_money_owed(tmp_path: Path) -> None:
    clients = [["Client", "Phone"], ["Orla Fell", "555 0100"]]
    book = [
        ["No", "Date", "Client", "Description", "Amount", "Paid on"],
        ["B1", date(2025, 3, 1), "Orla Fell", "full set", 120, date(2025, 3, 9)],
    ]

    brought = understood(saved(tmp_path, {"Clients": clients, "Bills 2025": book}))

    assert (brought.spending, brought.owed) == ((), ())
    assert [n.at.sheet for n in brought.notes if n.code == "read.unread.sheet_unknown"] == [
        "Bills 2025"
    ]


def test_what_was_charged_is_the_total_and_not_the_price_before_tax() -> None:
    brought = from_rows(
        [
            ["Date", "Horse", "Owner", "Service", "Price", "Tax", "Total", "Paid", "Method"],
            ["2026-10-01 09:00", "Tuppence", "Orla Fell", "Full set", 175, 14, 189, "sí", "Card"],
        ]
    )

    assert [(job.amount, job.paid, job.method) for job in brought.jobs] == [(18900, 18900, "card")]


def test_a_box_of_unknown_size_gives_neither_a_count_nor_a_cost_of_one_nail() -> None:
    brought = from_rows(
        [
            ["Article", "Size", "On hand", "Unit cost"],
            ["City nails", "5", "2 boxes", 22.5],
            ["Steel shoes, pairs", "1", 4, 11],
        ]
    )

    nails, shoes = brought.stock
    assert (nails.truck, nails.cost) == (None, None)
    assert (shoes.truck, shoes.cost, shoes.cost_for) == (8, 1100, 2)
    assert "find_out.pack_unknown" in codes(brought)


def test_a_client_there_twice_is_one_under_the_better_spelling() -> None:
    brought = from_rows(
        [
            ["Client", "Phone", "Address"],
            ["FELL", "555 0100", None],
            ["Fell", None, "1 Elm"],
            [],
            ["Horse", "Owner", "Breed"],
            ["Tuppence", "fell", "QH"],
        ]
    )

    assert [(c.name, c.phone, c.address) for c in brought.clients] == [
        ("Fell", "555 0100", "1 Elm")
    ]
    assert brought.horses[0].clients == (("Fell", 1),)


def test_every_note_and_question_has_its_words() -> None:
    import re

    from tests.architecture.source import PACKAGE

    texts = [file.read_text() for file in (PACKAGE / "interchange").rglob("*.py")]
    used = {code for text in texts for code in re.findall(r'"((?:read|workbook)\.[a-z_.]+)"', text)}

    assert {code for code in used if not code.endswith(".")} - set(US) == set()
    worded = {code for code in US if code.startswith(("read.", "workbook."))}
    built = {f"read.changed.date_{part}_only" for part in ("month", "year")} | {
        "read.changed.title_is_owner", "read.changed.title_is_yard",
        "read.unread.count_below_nothing", "read.unread.count_unreadable",
        "read.unread.count_not_whole", "read.changed.count_rounded",
    }  # fmt: skip
    assert worded - used - built == set()
    assert set(UK) >= worded
