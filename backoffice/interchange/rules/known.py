"""Who and what has been found so far, while a workbook is being understood?"""

from dataclasses import dataclass, field

from backoffice.clients.rules import search_key
from backoffice.interchange.rules.brought import BroughtClient, BroughtHorse, BroughtYard
from backoffice.interchange.rules.names import People


@dataclass(slots=True)
class Known:
    """Everyone and every place found so far, and who stands beside which horse elsewhere."""

    people: People = field(default_factory=People)
    clients: dict[str, BroughtClient] = field(default_factory=dict)
    yards: dict[str, BroughtYard] = field(default_factory=dict)
    seen: dict[str, set[str]] = field(default_factory=dict)
    horses: dict[tuple[str, str], BroughtHorse] = field(default_factory=dict)
    named: dict[str, list[BroughtHorse]] = field(default_factory=dict)
    beside: list[BroughtHorse] = field(default_factory=list)

    def add_horse(self, horse: BroughtHorse) -> None:
        """Take a horse in, known by its name and its owner."""
        name, owner = search_key(horse.name), horse.clients[0][0] if horse.clients else None
        self.horses[name, search_key(owner)] = horse
        self.named.setdefault(name, []).append(horse)
