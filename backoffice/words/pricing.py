"""Sentences of pricing."""

US: dict[str, str] = {
    "price.told": "Told at the barn.",
    "price.booked": "As on the day sheet.",
    "price.agreed": "Agreed with the client, from {from_day}.",
    "price.listed_for_kind": "Price list from {from_day}, for this kind of horse.",
    "price.listed": "Price list from {from_day}.",
    "price.travel_booked": "Part of the trip fee, as booked.",
    "price.travel_waived": "The horse was not there: trip fee waived.",
    "price.unknown": "The price is not known yet.",
    "price.ends_before": "This begins on {from_day}. It cannot end before that.",
    "price.rate_needed": "A taxed line needs its rate.",
    "price.no_rate_here": "Only a taxed line has a rate.",
    "tax_kind.labour": "work",
    "tax_kind.goods": "goods",
    "tax_kind.travel": "trip fees",
    "tax_category.S": "taxed",
    "tax_category.Z": "taxed at nothing",
    "tax_category.E": "exempt",
    "tax_category.O": "no sales tax",
    "recipe.horse": "for each horse",
    "recipe.shod_foot": "for each shoe nailed on",
}

UK: dict[str, str] = {
    "price.told": "Told at the yard.",
    "price.travel_booked": "Part of the call-out, as booked.",
    "price.travel_waived": "The horse was not there: call-out waived.",
    "tax_kind.travel": "call-outs",
    "tax_category.Z": "zero rated",
    "tax_category.O": "no VAT",
}
