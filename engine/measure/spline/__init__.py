"""Smooth periodic surfaces by penalised tensor B-splines: what measured points are fitted with."""

from engine.measure.spline.basis import Basis
from engine.measure.spline.penalty import around_penalty, penalties
from engine.measure.spline.solving import RIDGE, Factor, Smoothing, covariance, pattern_search

__all__ = ["RIDGE", "Basis", "Factor", "Smoothing", "around_penalty", "covariance", "pattern_search", "penalties"]
