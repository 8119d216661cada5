"""How does a rule say no? With a code and its facts, worded only when shown."""

from dataclasses import dataclass


class Refused(Exception):
    """What was asked cannot be done; nothing was saved.

    ``code`` names a sentence of the label catalogue, ``facts`` fill it in, and ``field`` names
    the form field the sentence belongs beside, if there is one.
    """

    def __init__(self, code: str, *, field: str = "", **facts: object) -> None:
        super().__init__(code, facts)
        self.code = code
        self.field = field
        self.facts = facts


@dataclass(frozen=True, slots=True)
class Broken:
    """Something in the books that does not hold, found by a check."""

    code: str
    facts: dict[str, object]
