"""What can be wrong with the simulated machine: causes with a severity, never symptoms."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

from drivers.plant.lines import CHANNELS


@dataclass(frozen=True, slots=True)
class Faults:
    """Severities 0 (healthy) to 1 (as bad as the plant models it), and the slips made with the instruments.

    The severities change the machine's physics only; `probe_off`, `swapped` and `declared_refrigerant`
    change what is indicated or written down, never the machine.
    """

    weak_pump_capacitor: float = 0.0
    clogged_strainer: float = 0.0
    scaled_source_coil: float = 0.0
    iced_source_coil: float = 0.0
    air_in_loop: float = 0.0
    low_load_flow: float = 0.0
    undercharge: float = 0.0
    overcharge: float = 0.0
    non_condensables: float = 0.0
    liquid_line_restriction: float = 0.0
    valve_starving: float = 0.0
    valve_flooding: float = 0.0
    valve_hunting: float = 0.0
    compressor_valve_leak: float = 0.0
    reversing_valve_leak: float = 0.0
    control_short: float = 0.0
    failing_transformer: float = 0.0
    open_safety: float = 0.0
    low_supply_voltage: float = 0.0
    probe_off: str | None = None
    swapped: tuple[str, str] | None = None
    declared_refrigerant: str | None = None

    def __post_init__(self) -> None:
        for name in SEVERITIES:
            value = getattr(self, name)
            if not 0.0 <= value <= 1.0:
                raise ValueError(f"The severity of {name} is {value}; it must lie between 0 and 1.")
        if self.probe_off is not None:
            _check_channels("probe_off", (self.probe_off,))
        if self.swapped is not None:
            _check_channels("swapped", self.swapped)


def _check_channels(slip: str, names: tuple[str, ...]) -> None:
    for name in names:
        if name not in CHANNELS:
            raise ValueError(
                f"The slip {slip} names the channel {name!r}; choose from {', '.join(CHANNELS)}."
            )
    kinds = {CHANNELS[name].quantity for name in names}
    if slip == "probe_off" and kinds != {"temperature"}:
        raise ValueError(
            f"The slip probe_off names {names[0]!r}; only a temperature probe can fall off its pipe."
        )
    if len(kinds) > 1:
        raise ValueError(f"The slip swapped names {' and '.join(names)}, which measure different quantities.")


SEVERITIES: tuple[str, ...] = tuple(
    f.name for f in fields(Faults) if f.name not in ("probe_off", "swapped", "declared_refrigerant")
)


def one_fault(name: str, severity: float) -> Faults:
    """Make a machine's faults from one of `SEVERITIES` alone.

    Examples
    --------
    >>> one_fault("overcharge", 0.5).overcharge
    0.5
    """
    if name not in SEVERITIES:
        raise ValueError(f"The plant has no fault {name!r}; choose one of {', '.join(SEVERITIES)}.")
    values: dict[str, Any] = {name: severity}
    return Faults(**values)
