"""Sending out: quotes, prices fitted to a few of them, orders, and a service's own limits."""

from buildplan.decide.sending.compare import SendRow, SentPart, fit_services, send_rows
from buildplan.decide.sending.order import OrderCost, OrderItem, order_cost
from buildplan.decide.sending.preflight import SentFacts, preflight
from buildplan.decide.sending.price import PriceModel, fit_prices, predict_price
from buildplan.decide.sending.quotes import quote_findings
from buildplan.decide.sending.shape import ChoiceTable, QuoteTable, ServiceTable

__all__ = [
    "ChoiceTable",
    "OrderCost",
    "OrderItem",
    "PriceModel",
    "QuoteTable",
    "SendRow",
    "SentFacts",
    "SentPart",
    "ServiceTable",
    "fit_prices",
    "fit_services",
    "order_cost",
    "predict_price",
    "preflight",
    "quote_findings",
    "send_rows",
]
