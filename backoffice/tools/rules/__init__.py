"""How much work does a horse put on each tool, what does it cost, and in what state is the tool?"""

from backoffice.tools.rules.standing import (
    CAUTIONS,
    SHARPENING,
    LogLine,
    Saying,
    StateFacts,
    after_events,
    next_stage,
    standing,
    worth,
)
from backoffice.tools.rules.wear import (
    FOOT_FACTORS,
    ToolCost,
    ToolDetails,
    Usual,
    cost_known,
    share_units,
    units_of,
    usual,
    wear_cost,
)

__all__ = [
    "CAUTIONS",
    "FOOT_FACTORS",
    "SHARPENING",
    "LogLine",
    "Saying",
    "StateFacts",
    "ToolCost",
    "ToolDetails",
    "Usual",
    "after_events",
    "cost_known",
    "next_stage",
    "share_units",
    "standing",
    "units_of",
    "usual",
    "wear_cost",
    "worth",
]
