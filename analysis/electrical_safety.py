"""The safe order of electrical work: what to read before the first value, and when an advised act is safe.

evenrun only reads. The cautions below are the usual ones of the trade; the standards behind them are NFPA 70E
and EN 50110-1 (work on electrical installations: prove dead, prove the tester before and after), OSHA 29 CFR
1910.147 (lock-out) and 1910.333, ABYC E-11 (boats), EN 378 and ASHRAE 15 (flammable refrigerants), cited by
name from memory. Local codes and licensed practice decide.
"""

from __future__ import annotations

from dataclasses import dataclass

from analysis.finding_acts import Act, Safe


def by_condition(acts: tuple[Act, ...]) -> dict[Safe, tuple[str, ...]]:
    """Group acts by their condition, in the fixed order of the conditions; empty groups are left out.

    Examples
    --------
    >>> by_condition((Act("lift the leads", Safe.ISOLATED), Act("watch the pump", Safe.WHILE_RUNNING)))
    {<Safe.WHILE_RUNNING: 'while running'>: ('watch the pump',),
     <Safe.ISOLATED: 'isolated and proven dead'>: ('lift the leads',)}
    """
    groups = {
        condition: tuple(dict.fromkeys(act.text for act in acts if act.safe is condition))
        for condition in Safe
    }
    return {condition: texts for condition, texts in groups.items() if texts}


@dataclass(frozen=True, slots=True)
class Caution:
    """A warning that stands before the first value."""

    code: str
    text: str


QUALIFIED = Caution("qualified", "Live work only by those licensed for it; local codes decide.")
PROVE = Caution(
    "prove_tester", "Prove the meter on a known live point before and after: a dead meter reads 0 V too."
)
DISCHARGE = Caution(
    "discharge", "Discharge capacitors through a resistor and prove them discharged before touching a lead."
)
LEADS = Caution(
    "isolated_leads", "A USB or RS-485 lead that is not isolated must not touch a live circuit, ever."
)
SECOND_SUPPLY = Caution(
    "second_supplies",
    "Look for second supplies before anything counts as dead: pump, strip heat, shore power, generator or "
    "inverter, a control supply from elsewhere.",
)
IGNITION = Caution(
    "ignition",
    "Near a refrigerant of class A2L or A3: no ignition source. Ventilate, use a detector, and make no "
    "spark: no lead lifted live, no contactor pushed by hand.",
)
OVERNIGHT = Caution(
    "overnight",
    "Hoses and loggers left overnight: close the valves at the hoses, secure leads away from rotating, hot "
    "and wet parts, leave no live part open, and leave a note.",
)
GAUGES = Caution(
    "pressure",
    "Gauges and hoses hold pressure and liquid: eye protection and gloves; only those certified for "
    "refrigerants open a circuit; purge into recovery, never into the room.",
)
_FLAMMABLE = ("2", "3")


def cautions(safety_class: str | None = None, *, gauges: bool = False) -> tuple[Caution, ...]:
    """Give what must be read before the first value.

    Parameters
    ----------
    safety_class
        Of the refrigerant by ISO 817, such as ``A2L``; None where it is not known: the caution then stays.
    gauges
        Whether gauges are on the machine too.

    Examples
    --------
    >>> [caution.code for caution in cautions("A1")]
    ['qualified', 'prove_tester', 'discharge', 'isolated_leads', 'second_supplies', 'overnight']
    >>> IGNITION in cautions("A2L"), IGNITION in cautions(None)
    (True, True)
    """
    may_burn = safety_class is None or any(mark in safety_class for mark in _FLAMMABLE)
    first = (QUALIFIED, PROVE, DISCHARGE, LEADS, SECOND_SUPPLY)
    return (*first, *((IGNITION,) if may_burn else ()), *((GAUGES,) if gauges else ()), OVERNIGHT)


@dataclass(frozen=True, slots=True)
class SecondSupply:
    """Another way in which the machine may be live."""

    name: str
    isolated: bool | None = None
    """None where nobody has said."""


@dataclass(frozen=True, slots=True)
class Isolation:
    """A person's entry that the machine is made safe; it is never derived from readings."""

    who: str = ""
    when: str = ""
    proven_dead: bool = False
    tester_proved_before: bool = False
    tester_proved_after: bool = False
    second_supplies: tuple[SecondSupply, ...] | None = None
    """None where nobody has looked; empty where there are none."""

    def lacks(self) -> tuple[str, ...]:
        """Say what is still missing before the machine counts as isolated and proven dead.

        Examples
        --------
        >>> Isolation("A", "10:02", True, True, True, (SecondSupply("well pump", None),)).lacks()
        ("whether the second supply 'well pump' is isolated",)
        >>> Isolation("A", "10:02", True, True, True, ()).lacks()
        ()
        """
        found = [
            words
            for entered, words in (
                (bool(self.who), "who isolated it"),
                (bool(self.when), "when it was isolated"),
                (self.proven_dead, "that absence of voltage is proven"),
                (self.tester_proved_before, "that the meter was proved before"),
                (self.tester_proved_after, "that the meter was proved after"),
                (self.second_supplies is not None, "which second supplies there are, or that there are none"),
            )
            if not entered
        ]
        for supply in self.second_supplies or ():
            if supply.isolated is None:
                found.append(f"whether the second supply '{supply.name}' is isolated")
            elif not supply.isolated:
                found.append(f"the isolation of the second supply '{supply.name}', which is still live")
        return tuple(found)

    @property
    def complete(self) -> bool:
        """Whether the machine counts as isolated and proven dead."""
        return not self.lacks()
