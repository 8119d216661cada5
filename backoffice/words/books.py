"""Sentences of money out."""

US: dict[str, str] = {
    "books.lines_over_total": "The lines come to {over_cents} more than the total of the bill.",
    "check.supplier_bill": "The lines of supplier bill {bill} do not sum to its total.",
    "check.delivery_cost": "Delivery {delivery} did not cost what its supplier bill says.",
    "check.delivery_unbilled": "Delivery {delivery} is missing from its supplier bill.",
    "paid_by.cash": "cash",
    "paid_by.card": "card",
    "paid_by.transfer": "bank transfer",
    "paid_by.cheque": "check",
    "paid_by.unpaid": "not paid yet",
}

UK: dict[str, str] = {
    "paid_by.cheque": "cheque",
}
