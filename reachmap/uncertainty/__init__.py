"""Ensemble of rivers that the evidence allows: spread and odds."""

from reachmap.uncertainty.confidence import spread_at, with_confidence
from reachmap.uncertainty.estimate import VERSION, estimate_uncertainty
from reachmap.uncertainty.settings import UncertaintySettings
from reachmap.uncertainty.survey import SURVEY_VERSION, survey_layer

__all__ = [
    "SURVEY_VERSION",
    "VERSION",
    "UncertaintySettings",
    "estimate_uncertainty",
    "spread_at",
    "survey_layer",
    "with_confidence",
]
