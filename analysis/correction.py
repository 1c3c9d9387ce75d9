"""What is added to a channel's indication, with the evidence that it rests on.

An ``offset`` event says an amount, and behind it how it was found. A bare amount corrects the value and
leaves its uncertainty as the maker states it. One that was found in one cup carries what a match knows: how
well the probe stands among those of its cup, and what all of these have in common.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from analysis.units import Quantity, UnitError, from_si, parse_amount

DIFFERENCE_OF = {
    Quantity.TEMPERATURE: Quantity.TEMPERATURE_DIFFERENCE,
    Quantity.GAUGE_PRESSURE: Quantity.PRESSURE_DIFFERENCE,
    Quantity.ABSOLUTE_PRESSURE: Quantity.PRESSURE_DIFFERENCE,
}
"""In what an offset of a quantity is stated; of any other in that quantity itself."""
_UNIT = {Quantity.TEMPERATURE_DIFFERENCE: "K", Quantity.PRESSURE_DIFFERENCE: "kPa"}
_NOT_STATED = "not stated"
_MATCHED = re.compile(
    r"matched in one cup at ([^:]+): own ([^,]+), shared ([^,]+), slope ([\d.eE+-]+), cup ([\dTZ:.-]+)",
    re.ASCII,
)
_ZEROED = re.compile(r"zeroed open to the air: own ([^,]+), ([\dTZ:.-]+)", re.ASCII)


class CorrectionError(ValueError):
    """A correction that cannot be read; the text says why and what to write."""


@dataclass(frozen=True, slots=True)
class CupMatch:
    """What a match in one cup knows of a probe after its offset is added; all u are standard (k = 1)."""

    at: float
    """Temperature of the cup [K]."""
    own: float
    """How well the probe stands among those of the cup [K]; no other probe shares it."""
    shared: float
    """What all probes of the cup have in common, the error of its reference [K]; NaN where none is stated."""
    slope: float
    """By how much ``own`` grows with the distance from the cup's temperature [K per K]."""
    cup: str
    """Names the cup: the moment of the match in UTC. Probes of one cup share their ``shared`` error."""


@dataclass(frozen=True, slots=True)
class GaugeZero:
    """What the zeroing of a gauge knows."""

    own: float
    """Standard uncertainty of the zero [Pa]; what the maker states for the span stays as it is."""
    when: str
    """Moment of the zeroing in UTC."""


@dataclass(frozen=True, slots=True)
class Correction:
    """An offset of a channel."""

    offset: float
    """Added to the scaled indication [SI difference]."""
    evidence: CupMatch | GaugeZero | None = None

    @property
    def match(self) -> CupMatch | None:
        """The match in one cup behind it; None where there is none."""
        return self.evidence if isinstance(self.evidence, CupMatch) else None


def parse_correction(text: str, quantity: Quantity | None) -> Correction:
    """Read what an ``offset`` event or a line of a set-up's ``[offset]`` says.

    Parameters
    ----------
    text
        ``-0.3 K``, or what :func:`correction_text` writes.
    quantity
        Of the channel; None where it is not known yet.

    Raises
    ------
    CorrectionError
        If the amount or its evidence cannot be read, or evidence is of another quantity.

    Examples
    --------
    >>> parse_correction("-0.3 K", Quantity.TEMPERATURE).offset
    -0.3
    >>> parse_correction("0.2 K, matched by eye", Quantity.TEMPERATURE)
    Traceback (most recent call last):
    analysis.correction.CorrectionError: 'matched by eye' is no evidence of an offset; write the amount alone.
    """
    amount, _, behind = text.partition(",")
    evidence = behind.strip()
    if not evidence.startswith(("matched ", "zeroed ")):
        amount, evidence = text, ""
    among = [*_UNIT, *Quantity]
    if quantity is not None:
        among = [DIFFERENCE_OF.get(quantity, quantity)]
    try:
        read = parse_amount(amount.replace("degC", "K"), *among)
        return Correction(read.si, _evidence(evidence, read.quantity) if evidence else None)
    except UnitError as refused:
        raise CorrectionError(str(refused)) from None


def _evidence(text: str, quantity: Quantity) -> CupMatch | GaugeZero:
    """Read what stands behind the amount."""
    cup, zero = _MATCHED.fullmatch(text), _ZEROED.fullmatch(text)
    if cup is not None and quantity is Quantity.TEMPERATURE_DIFFERENCE:
        at, own, shared, slope, name = cup.groups()
        match = CupMatch(
            parse_amount(at, Quantity.TEMPERATURE).si,
            _standard(own, quantity),
            math.nan if shared == _NOT_STATED else _standard(shared, quantity, least=0.0),
            _share(slope),
            name,
        )
        if match.at > 0.0:
            return match
    if zero is not None and quantity is Quantity.PRESSURE_DIFFERENCE:
        return GaugeZero(_standard(zero.group(1), quantity), zero.group(2))
    raise CorrectionError(f"'{text}' is no evidence of an offset; write the amount alone.")


def _standard(text: str, quantity: Quantity, least: float = 1e-9) -> float:
    value = parse_amount(text, quantity).si
    if not value >= least:
        raise CorrectionError(f"an uncertainty of '{text}' cannot be; write the amount alone.")
    return value


def _share(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not 0.0 <= value < 1.0:
        raise CorrectionError(f"a slope of '{text}' cannot be; write the amount alone.")
    return value


def correction_text(correction: Correction, quantity: Quantity) -> str:
    """Write a correction of a temperature or a pressure as the text of an ``offset`` event.

    Reading it gives the same offset to five digits, and what is known of it to three.

    Examples
    --------
    >>> match = CupMatch(285.46, 0.031, 0.25, 0.0029, "2026-01-14T08:12:30Z")
    >>> text = correction_text(Correction(0.12, match), Quantity.TEMPERATURE)
    >>> text.split(": ")[0]
    '0.12 K, matched in one cup at 12.31 degC'
    >>> text.split(": ")[1]
    'own 0.031 K, shared 0.25 K, slope 0.0029, cup 2026-01-14T08:12:30Z'
    >>> parse_correction(text, Quantity.TEMPERATURE).match == match
    True
    """
    difference = DIFFERENCE_OF.get(quantity, quantity)
    sign = _UNIT[difference]

    def amount(si: float, digits: int = 3) -> str:
        return f"{from_si(difference, sign, si):.{digits}g} {sign}"

    text = amount(correction.offset, 5)
    match correction.evidence:
        case CupMatch(at, own, shared, slope, cup):
            common = amount(shared) if math.isfinite(shared) else _NOT_STATED
            where = f"matched in one cup at {at - 273.15:.2f} degC"
            return f"{text}, {where}: own {amount(own)}, shared {common}, slope {slope:.3g}, cup {cup}"
        case GaugeZero(own, when):
            return f"{text}, zeroed open to the air: own {amount(own)}, {when}"
        case _:
            return text
