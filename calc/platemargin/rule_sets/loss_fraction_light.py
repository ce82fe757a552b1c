"""How much of its original thickness a lightly built hull's plate may lose."""

from platemargin.reference import NVIC_7_68
from platemargin.rules import Rule, RuleSet

__all__ = ["rule_set"]

rule_set = RuleSet(
    id="loss-fraction-light",
    version="1.0.0",
    title="Greatest local loss as a fraction of the original thickness, for lightly built hulls",
    rules=(
        Rule(
            id="local-loss-light-act",
            quantity="loss_percent",
            at_most=15.0,
            severity="act",
            statement="On a lightly built hull, plate that has lost more than 15 % is renewed.",
            reference=NVIC_7_68.id,
        ),
    ),
    references=(NVIC_7_68,),
)
