"""Is what is left reckoned as the textbook does, and are ratios those of sums?

Sources of the figures, both *verified*, that is read and recomputed:

- P. J. Bickel, E. A. Hammel, J. W. O'Connell, "Sex Bias in Graduate Admissions: Data from
  Berkeley", *Science* 187 (1975), in the cells of the R data set ``UCBAdmissions``.
- OpenStax, *Principles of Accounting, Volume 2: Managerial Accounting* (2019), chapter 3, on
  contribution margin. All amounts there are dollars; here they are cents.
"""

from collections.abc import Iterable

import pytest

from backoffice.money import PPM
from backoffice.reports import rules
from backoffice.reports.rules import Line, Sums

# By department: admitted and rejected men, admitted and rejected women.
BERKELEY = {
    "A": (512, 313, 89, 19),
    "B": (353, 207, 17, 8),
    "C": (120, 205, 202, 391),
    "D": (138, 279, 131, 244),
    "E": (53, 138, 94, 299),
    "F": (22, 351, 24, 317),
}
MEN = [(admitted, admitted + rejected) for admitted, rejected, _, _ in BERKELEY.values()]
WOMEN = [(admitted, admitted + rejected) for _, _, admitted, rejected in BERKELEY.values()]


def of_sums(rows: Iterable[tuple[int, int]]) -> int | None:
    """Take the applied for what was worked for, the admitted for what is left of it."""
    sums = rules.add_up(Sums(net=applied, tool=applied - kept) for kept, applied in rows)
    whole = Line(key=1, sums=sums, time=0)
    return rules.parts_of(whole.left, whole.sums.net, PPM)


@pytest.mark.parametrize(
    ("rows", "kept", "applied", "ratio"),
    [
        (MEN, 1_198, 2_691, 445_188),
        (WOMEN, 557, 1_835, 303_542),
        ([*MEN, *WOMEN], 1_755, 4_526, 387_760),
    ],
    ids=["men", "women", "all"],
)
def test_a_share_is_a_ratio_of_sums(
    rows: list[tuple[int, int]], kept: int, applied: int, ratio: int
) -> None:
    """Admitted of all who applied (verified): .445188, .303542 and .387760."""
    assert (sum(one for one, _ in rows), sum(all_ for _, all_ in rows)) == (kept, applied)
    assert of_sums(rows) == ratio


def test_a_mean_of_ratios_would_put_the_two_the_other_way_round() -> None:
    """Mean of the departments' ratios (verified): men .381266, women .417269."""
    mean = {}
    for name, rows in (("men", MEN), ("women", WOMEN)):
        ratios = [rules.parts_of(kept, applied, PPM) or 0 for kept, applied in rows]
        mean[name] = rules.parts_of(sum(ratios), PPM * len(ratios), PPM)

    assert mean == {"men": 381_266, "women": 417_269}
    assert (of_sums(MEN) or 0) > (of_sums(WOMEN) or 0)


def test_what_an_hour_left_is_a_ratio_of_sums_too() -> None:
    """The same cells with the applied as minutes: 60 × .445188 and 60 × .303542 an hour."""
    for rows, hour in ((MEN, 2_671), (WOMEN, 1_821)):
        kept, minutes = (sum(column) for column in zip(*rows, strict=True))
        assert rules.per_hour(kept * 100, minutes) == hour


@pytest.mark.parametrize(
    ("sales", "variable", "left", "percent"),
    [(10_000, 2_000, 8_000, 80), (7_500, 1_500, 6_000, 80)],
)
def test_the_contribution_margin_of_one_unit_is_the_textbook_s(
    sales: int, variable: int, left: int, percent: int
) -> None:
    """100 − 20 = 80, 80 %; 75 − 15 = 60, 80 % (verified)."""
    unit = Line(key=1, sums=Sums(net=sales, material=variable), time=0)

    assert (unit.after_materials, unit.left) == (left, left)
    assert rules.parts_of(unit.left, unit.sums.net) == percent


def test_sold_to_the_break_even_point_nothing_is_left_after_what_is_fixed() -> None:
    """Fixed costs 18,000 and 80 a unit (verified): 225 units. The fixed stand in for one's time."""
    sold = rules.add_up([Sums(net=10_000, material=2_000)] * 225)

    assert Line(key=1, sums=sold, time=1_800_000).after_time == 0


@pytest.mark.parametrize(
    ("mix", "sales", "variable", "left"),
    [
        ([(5, 625, 325), (3, 775, 450), (2, 925, 625)], 7_300, 4_225, 3_075),
        ([(5, 60, 25), (3, 100, 75), (2, 80, 50), (1, 190, 150)], 950, 600, 350),
    ],
    ids=["5:3:2", "a basket"],
)
def test_a_mix_leaves_what_the_textbook_s_composite_unit_leaves(
    mix: list[tuple[int, int, int]], sales: int, variable: int, left: int
) -> None:
    """73.00 − 42.25 = 30.75 and 9.50 − 6.00 = 3.50 (verified)."""
    sums = rules.add_up(Sums(net=n * price, material=n * cost) for n, price, cost in mix)
    whole = Line(key=1, sums=sums, time=0)

    assert (sums.net, sums.material, whole.left) == (sales, variable, left)
