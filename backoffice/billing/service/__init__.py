"""What may be done with money owed: close a day, issue, be paid, put right."""

from backoffice.billing.service.closing import apply_late, close_day, put_right
from backoffice.billing.service.issuing import NewBill, hand_over, issue, issue_all
from backoffice.billing.service.opening import OldBalance, open_balance
from backoffice.billing.service.payments import NewPayment, record_payment
from backoffice.billing.service.said import take_payment, take_payments
from backoffice.billing.service.taking_back import credit, fix_bill, reprice

__all__ = [
    "NewBill",
    "NewPayment",
    "OldBalance",
    "apply_late",
    "close_day",
    "credit",
    "fix_bill",
    "hand_over",
    "issue",
    "issue_all",
    "open_balance",
    "put_right",
    "record_payment",
    "reprice",
    "take_payment",
    "take_payments",
]
