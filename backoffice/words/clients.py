"""Sentences of clients, yards and horses."""

US: dict[str, str] = {
    "client.unnamed": "a client not named yet",
    "yard.unnamed": "a barn not named yet",
    "horse.unnamed": "a horse not named yet",
    "client.private": "private",
    "client.business": "business",
    "bill_when.on_the_spot": "on the spot",
    "bill_when.tonight": "tonight",
    "bill_when.weekly": "weekly",
    "bill_when.monthly": "monthly",
    "bill_how.paper": "on paper",
    "bill_how.text": "by text",
    "bill_how.email": "by e-mail",
    "flag.kicks": "kicks",
    "flag.leans": "leans",
    "flag.two_people": "needs two people",
    "flag.sedation": "needs sedation from the vet",
    "flag.do_not_tie": "do not tie",
    "flag.head_shy": "head shy",
    "flag.other": "take care",
    "life.active": "here",
    "life.sold": "sold",
    "life.gone": "gone",
    "life.dead": "dead",
    "shares.twice": "One client is named twice. Name each client once.",
    "flag.ends_before": "This began on {from_day}. It cannot end before that.",
    "broken.payer_twice": "Horse {horse_id}: client {client_id} is named twice among those who pay"
    " from {from_day}.",
    "broken.flag_ends_before": "Horse {horse_id}: handling note {flag_id} ends before it begins.",
    "broken.search_key": "A search would not find number {row_id} of {table}.",
}

UK: dict[str, str] = {
    "yard.unnamed": "a yard not named yet",
}
