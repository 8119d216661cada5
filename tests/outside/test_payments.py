"""Do payments settle bills as others published, or do by common practice?

Where a source is recalled from memory only the arithmetic was recomputed.
"""

from datetime import date, timedelta

from backoffice.billing.rules import AGES, age_of, allocate_oldest_first

# Eight invoices by days past due on 30 June 2026, the oldest first: 91, 90, 61, 60, 31, 30, 1, 0.
OWED = [(91, 1_000), (90, 2_000), (61, 3_000), (60, 4_000), (31, 6_000), (30, 8_000), (1, 5_000),
        (0, 10_000)]  # fmt: skip


def test_a_payment_settles_the_earliest_debts_first():
    """Clayton's Case, Devaynes v Noble (1816), the rule where the payer names no debt (from
    memory): 125.00 settles 10, 20, 30 and 40 in full and leaves 35.00 of the 60.00."""
    settled = allocate_oldest_first(OWED, 12_500)

    assert settled == ((91, 1_000), (90, 2_000), (61, 3_000), (60, 4_000), (31, 2_500))
    assert dict(OWED)[31] - dict(settled)[31] == 3_500


def test_what_is_paid_beyond_all_debts_stays_a_credit():
    """The same rule, and common practice: 400.00 on 390.00 owed leaves a credit of 10.00."""
    settled = allocate_oldest_first(OWED, 40_000)

    assert sum(amount for _, amount in OWED) == 39_000
    assert settled == tuple(OWED)
    assert 40_000 - sum(part for _, part in settled) == 1_000


def test_bills_are_sorted_by_how_long_they_are_past_due():
    """Common practice of accounts receivable: current, 1-30, 31-60, 61-90 and over 90 days."""
    today = date(2026, 6, 30)
    owed = dict.fromkeys(AGES, 0)
    for late, amount in OWED:
        owed[age_of(today - timedelta(days=late), today)] += amount

    assert owed == {
        "current": 10_000, "to_30": 13_000, "to_60": 10_000, "to_90": 5_000, "older": 1_000,
    }  # fmt: skip
    assert age_of(today + timedelta(days=40), today) == "current"
