"""Does work on tools agree with a number others published, and with the trade's common practice?

Marks: *verified* was read in the source and recomputed; *common practice* has no single source.
"""

from dataclasses import replace

import pytest

from backoffice.clients.rules import starting_types
from backoffice.practice.rules import Settings
from backoffice.pricing.rules import planned_feet
from backoffice.tools.rules import ToolDetails, units_of, wear_cost
from backoffice.units import Foot, FootWork
from backoffice.visits.rules import FootState, needs

# OpenStax, Principles of Accounting, Volume 1, chapter 11, the press of 58,000 with a salvage of
# 10,000 that makes 960,000 prints (verified: read and recomputed): 0.05 a print, so 9,000 for
# 180,000.
PRESS = ToolDetails(
    sort="other", name="press", place_id=None, price=5_800_000, scrap=1_000_000, life=960_000
)


@pytest.mark.parametrize(("prints", "cost"), [(1, 5), (180_000, 900_000), (960_000, 4_800_000)])
def test_units_of_production_cost_what_the_textbook_says(prints: int, cost: int) -> None:
    assert wear_cost(prints, PRESS) == cost


def test_without_the_salvage_the_textbook_s_number_is_missed() -> None:
    assert wear_cost(180_000, replace(PRESS, scrap=0)) != 900_000


@pytest.mark.parametrize("words", ["us", "uk"])
def test_a_heavy_draft_is_two_to_three_ordinary_horses(words: str) -> None:
    """Common practice: about 2,000 lb against 1,000 to 1,200 for an ordinary stock horse, and it
    wears tools and takes time accordingly."""
    types = {kind.name: kind for kind in starting_types(words)}
    draft = types["Draft horse" if words == "us" else "Heavy horse"]
    stock = types["Stock horse" if words == "us" else "Cob"]
    trimmed = units_of(
        "knife", (FootWork.TRIM,) * 4, type_factor=draft.wear_factor, ground_factor=1_000
    )

    assert 2_000 <= draft.wear_factor <= 3_000
    assert 2_000 <= draft.time_factor <= 3_000
    assert (stock.wear_factor, stock.time_factor) == (1_000, 1_000)
    assert trimmed == draft.wear_factor


def test_a_reset_takes_nails_and_no_shoes() -> None:
    """Common practice: the same shoes go back on with new nails."""
    feet = {
        foot: FootState(planned=done, done=done, shoe=11, nail=12, nails=6)
        for foot, done in planned_feet("reset", "reset").items()
    }

    assert {(need.item, need.qty) for need in needs(feet, ())} == {(12, 6)}
    assert set(feet) == set(Foot)


@pytest.mark.parametrize("words", ["us", "uk"])
def test_sand_and_dry_ground_wear_most_and_mud_more_than_ordinary(words: str) -> None:
    """Common practice: a knife stays sharp longer when the foot is cleaned first; sand and grit
    dull it, dry horn is hard, and mud and manure pit the edge."""
    settings = Settings(words, {})
    dry, sand, mud, ordinary = (
        units_of(
            "knife", (FootWork.TRIM,) * 4, type_factor=1_000, ground_factor=settings[f"ground_{g}"]
        )
        for g in ("dry", "sand", "mud", "ordinary")
    )

    assert ordinary == 1_000
    assert min(dry, sand) > mud > ordinary
