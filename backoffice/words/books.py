"""Sentences of money out."""

US: dict[str, str] = {
    "books.lines_over_total": "The lines come to {over_cents} more than the total of the bill.",
    "books.lines_over_left": "Only {left_cents} of this bill is not sorted yet, and the lines come"
    " to {over_cents} more.",
    "books.all_sorted": "All of this bill is sorted already.",
    "books.nothing_said": "Say at least one thing that was on the bill.",
    "books.day_to_come": "{on_day} has not come yet.",
    "books.no_stop": "There is no stop on {on_day} to come along to.",
    "books.not_an_apprentice": "{name} is not an apprentice. If that is wrong, say so on the"
    " person’s page under Office.",
    "check.supplier_bill": "The lines of supplier bill {bill} do not sum to its total.",
    "check.delivery_cost": "Delivery {delivery} did not cost what its supplier bill says.",
    "check.delivery_unbilled": "Delivery {delivery} is missing from its supplier bill.",
    "check.sorted_beyond": "More of supplier bill {bill} was sorted than was on it.",
    "check.sorted_uneven": "What was said later of supplier bill {bill} is not what was taken off"
    " the part not sorted yet.",
    "check.pay_twice": "Person {person} is owed {on_day} more than once.",
    "check.pay_not_along": "Person {person} is owed {on_day}, but is said at no stop to have come"
    " along.",
    "check.pay_taken_back": "Row {pay} takes back other pay than was owed.",
    "paid_by.cash": "cash",
    "paid_by.card": "card",
    "paid_by.transfer": "bank transfer",
    "paid_by.cheque": "check",
    "paid_by.unpaid": "not paid yet",
}

UK: dict[str, str] = {
    "paid_by.cheque": "cheque",
}
