"""How much of its original thickness a hull plate may lose."""

from platemargin.reference import LOSS_WATCH, NVIC_7_68
from platemargin.rules import Rule, RuleSet

__all__ = ["rule_set"]

rule_set = RuleSet(
    id="loss-fraction",
    version="1.0.0",
    title="Greatest local loss as a fraction of the original thickness",
    rules=(
        Rule(
            id="local-loss-watch",
            quantity="loss_percent",
            at_most=20.0,
            severity="watch",
            statement="The loss nears the quarter at which plate is renewed.",
            reference=LOSS_WATCH.id,
        ),
        Rule(
            id="local-loss-act",
            quantity="loss_percent",
            at_most=25.0,
            severity="act",
            statement="Plate that has lost more than a quarter is renewed.",
            reference=NVIC_7_68.id,
        ),
    ),
    references=(LOSS_WATCH, NVIC_7_68),
)
