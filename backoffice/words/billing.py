"""Sentences of billing."""

# What stands on a printed bill under the layout bill-1 never changes again: a bill printed anew
# says what it said. A new wording needs a new layout.
US: dict[str, str] = {
    "document.bill": "Bill",
    "document.bill_title": "Bill {number}",
    "document.correction": "Correction",
    "document.correction_title": "Correction {number} to bill {credits}",
    "document.corrects": "to bill {credits}",
    "document.for": "For",
    "document.issued": "Date",
    "document.due": "Please pay by",
    "document.tax_id": "Tax number {number}",
    "document.day": "Day",
    "document.horse": "Horse",
    "document.done": "What was done",
    "document.times": "{qty} × {text}",
    "document.tax": "Tax",
    "document.amount": "Amount, {currency}",
    "document.before_tax": "Before tax",
    "document.tax.S": "Sales tax {rate} on {base_cents}",
    "document.tax.Z": "Sales tax 0% on {base_cents}",
    "document.tax.E": "No sales tax on {base_cents}, exempt",
    "document.exempt": "exempt",
    "document.prices_include": "Prices include sales tax.",
    "document.rounding": "Rounding",
    "document.total": "Total",
    "document.taken_off": "Taken off what you owe",
    "document.paid": "Paid so far",
    "document.to_pay": "Still to pay",
    "document.kept": "Kept for your next bill",
    "document.settled": "Paid in full. Thank you.",
    "document.note": "Note",
    "document.pay_to": "How to pay",
    "document.page": "Page",
    "document.of": "of",
    "document.removed_buyer": "Name and address removed",
    "document.removed_text": "Details removed",
    "age.current": "not due yet",
    "age.to_30": "up to 30 days past due",
    "age.to_60": "31 to 60 days past due",
    "age.to_90": "61 to 90 days past due",
    "age.older": "over 90 days past due",
    "document.no_typesetter": "The part of the program that prints bills is missing."
    " Install the program again: it comes with it.",
    "billing.day_to_come": "That day has not come yet.",
    "billing.nothing_to_close": "Nothing is left to write up: each horse is written up once,"
    " after something was said about it.",
    "billing.nothing_ready": "Nothing is waiting to be billed here.",
    "billing.changed": "The bill changed since you looked: it comes to {now_cents} now."
    " Look at it once more, then issue it.",
    "billing.one_changed": "The bill of {client} changed since you looked: it comes to {now_cents}"
    " now. No bill was issued. Look at them once more.",
    "billing.nil": "This comes to nothing, and a bill of nothing is not made."
    " It waits for the next one.",
    "billing.no_name": "A bill is fixed for good once it is issued, and yours would have no name on"
    " it. Write down your business first: Office, My business.",
    "billing.first_number": "Choose the number of your first bill, 1 or above.",
    "billing.from_before": "Owed from before: {reference}",
    "billing.nothing_owed": "Nothing is owed of {reference}.",
    "billing.owed_to_come": "{on_day} has not come yet, and nothing can be owed since then.",
    "billing.no_amount": "Write the amount that was paid.",
    "billing.already_corrected": "Bill {number} was taken back already.",
    "billing.emptied": "The details of this bill were removed; it can no longer be taken back.",
    "billing.other_bill": "{client} pays a part too, and what bill {number} asks for it would"
    " change with this one. Fix both in one step, or leave the price as it was.",
    "billing.on_a_bill": "Bill {number} asks {client} for this, and it would change. Fix that bill"
    " first: then who pays and the price are yours to change.",
    "billing.given_up_already": "What bill {number} asked {client} for was given up for good, and"
    " it would change. Leave the price as it was.",
    "billing.money_taken": "That money was taken in when the day was closed; it stands as it is.",
    "billing.not_waiting": "That money was taken in meanwhile.",
    "billing.only_done": "{text}, only the feet that were done",
    "billing.the_rest": "{text}, the rest of it",
    "billing.under_guarantee": "{text}, free under guarantee",
    "money.issued": "{bills} {bills:bill|bills} issued.",
    "money.in_hand": "{left_cents} in hand",
    "money.in_hand_receipts": "{left_cents} in hand, receipt {receipts}",
    "money.already": "Already in hand",
    "money.already_receipts": "Already in hand, receipt {receipts}",
    "money.kept": "{left_cents} more is in hand and waits for the next bill.",
    "money.tip_apart": "A tip of {tip_cents} came beside it and pays nothing of the bill.",
    "money.covered": "Paid already: {left_cents} in hand",
    "money.covered_receipts": "Paid already: {left_cents} in hand, receipt {receipts}",
    "bills.text": "Hello {name}, your bill {number} for {horses} comes to {payable_cents}, to be"
    " paid by {due_day}. Thank you.",
    "bills.text_part": "Hello {name}, your bill {number} for {horses} comes to {payable_cents};"
    " {open_cents} of it is still to be paid, by {due_day}. Thank you.",
    "bills.text_paid": "Hello {name}, your bill {number} for {horses} comes to {payable_cents} and"
    " is paid. Thank you.",
    "bills.your_horses": "your horses",
    "bills.give_up_title": "Take bill {number} back for good",
    "bills.give_up_under": "{client}, {payable_cents}",
    "bills.give_up_word": "Are you sure?",
    "bills.give_up_submit": "Take it back for good",
    "bills.give_up_unpaid": "Nothing will be asked for this work, now or later. What was done to"
    " the horses stays as it is. A wrong price or a wrong client is better put right with “Fix this"
    " bill”.",
    "bills.give_up_caution": "Nothing will be asked for this work, now or later. What was done to"
    " the horses stays as it is. {paid_cents} was paid on it: that is kept for the next bill.",
    "bills.give_up_why": "It is printed on the correction.",
    "bills.given_up": "Taken back for good. Nothing will be asked for this work.",
    "payments.who": "Who paid this?",
    "payments.receipt": "receipt {receipt}",
    "check.number_gap": "Number {no} of {series} does not follow the one before it.",
    "check.chain": "Number {no} of {series} was changed after it was issued.",
    "check.particulars": "The details of number {no} of {series} were changed after issue.",
    "check.series": "The last number of {series} is not {no}.",
    "check.totals": "Number {no} of {series} does not add up.",
    "check.open": "What is open of number {no} of {series} is not what was billed less paid.",
    "check.from_before": "Number {no} of {series} is owed from before, and looks like a bill of"
    " now.",
    "check.payment": "More than payment {payment} was set against bills.",
    "check.correction": "More than correction {no} was set against bills.",
    "check.balance": "What client {client} owes is not bills less payments.",
    "check.billed": "What client {client} pays for horse record {work} is on no bill and waits for"
    " none, or does both.",
    "method.cash": "cash",
    "method.card": "card",
    "method.transfer": "bank transfer",
    "method.cheque": "check",
    "method.app": "payment app",
    "method.other": "another way",
    "method.correction": "correction",
    "document.rate_unfit": "A line with tax needs a rate, and a line without tax has none."
    " Look at the tax rates under Office.",
    "document.outside_mixed": "A bill cannot hold work outside the tax beside work under it."
    " Mark the lines without tax as exempt or at 0%.",
}

UK: dict[str, str] = {
    "method.cheque": "cheque",
    "age.to_30": "up to 30 days late",
    "age.to_60": "31 to 60 days late",
    "age.to_90": "61 to 90 days late",
    "age.older": "over 90 days late",
    "document.tax_id": "VAT number {number}",
    "document.tax": "VAT",
    "document.before_tax": "Before VAT",
    "document.tax.S": "VAT {rate} on {base_cents}",
    "document.tax.Z": "VAT 0% on {base_cents}",
    "document.tax.E": "No VAT on {base_cents}, exempt",
    "document.prices_include": "Prices include VAT.",
    "document.rate_unfit": "A line with VAT needs a rate, and a line without VAT has none."
    " Look at the VAT rates under Office.",
    "document.outside_mixed": "A bill cannot hold work outside VAT beside work under it."
    " Mark the lines without VAT as exempt or at 0%.",
}
