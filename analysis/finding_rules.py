"""All rules of the findings, and the codes that come from elsewhere (guards, card)."""

from __future__ import annotations

from analysis.finding_rule import Rule
from analysis.finding_rules_other import OTHER_RULES
from analysis.finding_rules_refrigerant import CHARGE_RULES
from analysis.finding_rules_water import WATER_RULES

RULES: tuple[Rule, ...] = (*OTHER_RULES, *WATER_RULES, *CHARGE_RULES)
FURTHER_CODES = ("cut_out_set_against_fluid", "probe_fault", "wrong_refrigerant")
"""Found by the card's check and by the guards, not by signs."""
CODES: tuple[str, ...] = tuple(dict.fromkeys((*(rule.code for rule in RULES), *FURTHER_CODES)))


def rules_for(mode: str, metering: str) -> tuple[Rule, ...]:
    """Give the rules that can apply.

    Examples
    --------
    >>> [rule.code for rule in rules_for("heating", "fixed orifice") if rule.code.startswith("valve")]
    []
    """
    fitting = [
        rule
        for rule in RULES
        if (not mode or mode in rule.modes) and (not rule.metering or metering in rule.metering)
    ]
    return tuple(fitting)
