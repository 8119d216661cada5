"""What may be done with money owed: close a day, issue, be paid, put right."""

from backoffice.billing.service.closing import close_day
from backoffice.billing.service.documents import NewBill, credit, fix_bill, hand_over, issue
from backoffice.billing.service.payments import NewPayment, record_payment

__all__ = [
    "NewBill",
    "NewPayment",
    "close_day",
    "credit",
    "fix_bill",
    "hand_over",
    "issue",
    "record_payment",
]
