"""Sending out: quotes, prices fitted to a few of them, and the file against a service's limits."""

from buildplan.decide.sending.preflight import SentFacts, preflight
from buildplan.decide.sending.price import PriceModel, fit_prices, predict_price
from buildplan.decide.sending.shape import ChoiceTable, QuoteTable, ServiceTable

__all__ = [
    "ChoiceTable",
    "PriceModel",
    "QuoteTable",
    "SentFacts",
    "ServiceTable",
    "fit_prices",
    "predict_price",
    "preflight",
]
