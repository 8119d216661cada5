"""Sentences of the pages of the day, of planning and of money."""

US: dict[str, str] = {
    "today.closed": "Done for the day: {horses} {horses:horse|horses} written up.",
    "feet.size_unknown": "size not known yet",
    "feet.nails": ", {nails} {nails:nail|nails}",
    "feet.new": "new, {size}{nails}",
    "feet.reset": "reset, {size}{nails}",
    "visits.closed_already": "This horse was written up meanwhile. Use “fix it” on its page.",
    "visits.taken_off": "Taken off the day.",
    "visits.put_right": "Put right. Stock and tools followed; the price and the bill stay.",
    "price.waived_part": " ({waived_cents} not charged)",
    "price.total": "Price",
    "plan.put": "{horses} {horses:horse|horses} put on {on_day}.",
    "bills.open": "Open bill {number} to fix it",
    "bills.again": "{horses:This is|These are} ready to be billed again: say who pays, or change"
    " the price, then issue.",
    "bills.ready_for": "Open the bill ready for {client}",
    "bills.taken_back": "Taken back. The horses on {bills:it|them} are ready to be billed anew.",
    "payments.bill": "bill {number}, {open_cents} open",
    "payments.from": "Payment from {name}",
    "payments.owes": "Owes {owed_cents}.",
    "payments.credit": "Has {owed_cents} to his credit.",
    "payments.even": "Owes nothing. A payment now waits for the next bill.",
    "payments.submit": "Take it in",
    "payments.tip_hint": "Not part of the bill.",
    "payments.amount_hint": "Without the tip. More than is owed waits for the next bill.",
    "payments.taken": "{amount_cents} taken in.",
    "put_right": "fix it",
    "due.late": "late",
    "due.due": "due",
}

UK: dict[str, str] = {
    "feet.reset": "refit, {size}{nails}",
    "visits.closed_already": "This horse was written up meanwhile. Use “put right” on its page.",
    "put_right": "put right",
    "due.late": "over his time",
}
