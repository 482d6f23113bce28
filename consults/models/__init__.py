"""Rows of the middle floor, one file per feature."""

from consults.models.answers import BenchAnswer
from consults.models.cases import Case, CaseFinding, CasePhoto, CasePractice, Ranking
from consults.models.erasures import Erasure
from consults.models.looks import CheckIn, LookReminder, Outcome
from consults.models.plans import FollowUp, Plan, PlanAction
from consults.models.questions import Question
from consults.models.rules import (
    ReplayChange,
    ReplayChunk,
    ReplayResult,
    RulesDraft,
    RulesetVersion,
    RulesReplay,
)
from consults.models.shelf import ShelfItem, ShopWording
from consults.models.shop import Shop

__all__ = [
    "BenchAnswer",
    "Case",
    "CaseFinding",
    "CasePhoto",
    "CasePractice",
    "CheckIn",
    "Erasure",
    "FollowUp",
    "LookReminder",
    "Outcome",
    "Plan",
    "PlanAction",
    "Question",
    "Ranking",
    "ReplayChange",
    "ReplayChunk",
    "ReplayResult",
    "RulesDraft",
    "RulesReplay",
    "RulesetVersion",
    "ShelfItem",
    "Shop",
    "ShopWording",
]
