"""The usual circuits of a machine, point by point; a person may leave points out or name more safeties."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from analysis.electrical import ChainPoint

_LINE = (
    ChainPoint("supply", "line", "the supply before the disconnect", role="supply"),
    ChainPoint("disconnect", "line", "disconnect or its fuses"),
)
SAFETIES: Mapping[str, str] = {
    "high_pressure_switch": "high-pressure switch",
    "low_pressure_switch": "low-pressure switch",
    "low_temperature_cut_out": "low-temperature cut-out",
    "freeze_thermostat": "freeze thermostat",
    "condensate_switch": "condensate switch",
    "flow_switch": "flow switch",
    "air_flow_switch": "air-flow switch",
}
"""Safeties known by name; others are named by their own."""
USUAL_SAFETIES = ("high_pressure_switch", "low_temperature_cut_out", "condensate_switch")


def _safety(name: str) -> str:
    return SAFETIES.get(name, name.replace("_", " "))


def control_circuit(safeties: Sequence[str] = USUAL_SAFETIES) -> tuple[ChainPoint, ...]:
    """Give the control circuit: supply, transformer, fuse, R to C, safeties, control output, coil.

    Examples
    --------
    >>> [p.name for p in control_circuit(["high_pressure_switch"])][5:8]
    ['fuse', 'control_r_to_c', 'high_pressure_switch']
    """
    return (
        *_LINE,
        ChainPoint(
            "contactor_line", "line", "wire from disconnect to contactor", "contactor line side"
        ),
        ChainPoint("transformer_primary", "line", "wire to the transformer", "transformer in"),
        ChainPoint("transformer_secondary", "control", "transformer", "transformer out", "transformer"),
        ChainPoint("fuse", "control", "control fuse", role="fuse"),
        ChainPoint("control_r_to_c", "control", "wire from fuse to R and C", "R to C"),
        *(
            ChainPoint(name, "control", _safety(name), _safety(name), "safety") for name in safeties
        ),
        ChainPoint("control_output", "control", "the unit's own control", role="control"),
        ChainPoint("contactor_coil", "control", "wire from control output to contactor coil"),
    )  # fmt: skip


def compressor_circuit() -> tuple[ChainPoint, ...]:
    """Give the compressor's circuit: supply to terminals through the contactor's contacts."""
    return (
        *_LINE,
        ChainPoint("contactor_line", "line", "wire from disconnect to contactor", "contactor line side"),
        ChainPoint(
            "contactor_load", "line", "contactor contacts", "contactor load side", "contact", "contactor_coil"
        ),
        ChainPoint("compressor_terminals", "line", "wire from contactor to compressor"),
    )


def motor_circuit(motor: str, *, relay_coil: str = "") -> tuple[ChainPoint, ...]:
    """Give the circuit of a pump or fan motor: supply to terminals through a relay.

    Parameters
    ----------
    motor
        ``pump`` or ``fan``.
    relay_coil
        The point whose volts close the relay, where it is read.
    """
    return (
        *_LINE,
        ChainPoint("relay_in", "line", "wire to the relay"),
        ChainPoint("relay_out", "line", "relay contacts", role="contact", closed_by=relay_coil),
        ChainPoint(f"{motor}_terminals", "line", f"wire from relay to {motor}"),
    )
