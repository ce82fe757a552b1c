"""Every check of a survey's consistency, in the order in which an answer tells them."""

from __future__ import annotations

from platemargin.plating_checks import PLATING_CHECKS
from platemargin.previous_checks import PREVIOUS_CHECKS
from platemargin.reading_checks import READING_CHECKS
from platemargin.thickness_checks import THICKNESS_CHECKS

__all__ = ["CONSISTENCY_CHECKS", "CONSISTENCY_FINDINGS"]

CONSISTENCY_CHECKS = (*THICKNESS_CHECKS, *PLATING_CHECKS, *READING_CHECKS, *PREVIOUS_CHECKS)
#: What any calculation on a survey can tell whose result has `known` and `patterns`.
CONSISTENCY_FINDINGS = tuple(check.finding for check in CONSISTENCY_CHECKS)
