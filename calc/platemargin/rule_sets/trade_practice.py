"""What insurers of inland steel boats ask for under water; an insurer's own terms decide."""

from platemargin.reference import INSURER_MINIMUM
from platemargin.rules import Rule, RuleSet

__all__ = ["rule_set"]

rule_set = RuleSet(
    id="trade-practice",
    version="1.0.0",
    title="Least plate under water and at the water line that insurers of inland steel boats accept",
    rules=(
        Rule(
            id="least-plate-watch",
            quantity="residual_mm",
            at_least=4.0,
            severity="watch",
            statement="An insurer is told of plate below this, and may ask for more.",
            reference=INSURER_MINIMUM.id,
        ),
        Rule(
            id="least-plate-act",
            quantity="residual_mm",
            at_least=3.5,
            severity="act",
            statement="Plate below this is overplated or renewed.",
            reference=INSURER_MINIMUM.id,
        ),
    ),
    references=(INSURER_MINIMUM,),
)
