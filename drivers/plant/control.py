"""The simulated machine's control circuit: transformer, fuse, safety string, contactor, delays, lock-out."""

from __future__ import annotations

from dataclasses import dataclass

from drivers.plant.faults import Faults
from drivers.plant.parts import Control


@dataclass(slots=True)
class ControlCircuit:
    """State of the control circuit; `step` advances it and says through its fields what runs."""

    part: Control
    cooling: bool
    fuse_whole: bool = True
    fuse_heat: float = 0.0
    contactor: bool = False
    high_pressure_closed: bool = True
    low_temperature_closed: bool = True
    low_temperature_time: float = 0.0
    wait: float = 0.0
    trips: int = 0
    locked_out: bool = False
    output: bool = False
    chain: tuple[tuple[str, float], ...] = ()

    def step(
        self, dt: float, call: bool, supply: float, p_discharge: float, t_evaporating: float, faults: Faults
    ) -> None:
        """Advance by `dt` [s].

        Parameters
        ----------
        dt : float [s]
        call : bool
            The thermostat asks for heating or cooling.
        supply : float [V]
        p_discharge : float [Pa]
            Gauge pressure at the high-pressure switch.
        t_evaporating : float [K]
            What the low-temperature cut-out feels.
        faults : Faults
        """
        part = self.part
        self._safeties(dt, p_discharge, t_evaporating)
        whole_string = self.high_pressure_closed and self.low_temperature_closed
        if self.output and not whole_string:
            self.trips += 1
            self.wait = part.restart_delay
            self.locked_out = self.trips >= part.lock_out_trips
        if not call:
            self.trips, self.locked_out = 0, False
            self.wait = max(self.wait, part.start_delay)
        if not whole_string or not call:
            self.wait = max(self.wait, part.restart_delay if self.trips else part.start_delay)
        else:
            self.wait = max(0.0, self.wait - dt)
        self.output = call and whole_string and not self.locked_out and self.wait <= 0.0
        self._voltages(dt, call, supply, faults)

    def _safeties(self, dt: float, p_discharge: float, t_evaporating: float) -> None:
        part = self.part
        if p_discharge > part.high_pressure:
            self.high_pressure_closed = False
        elif p_discharge < part.high_pressure_reset:
            self.high_pressure_closed = True
        if t_evaporating < part.low_temperature and self.contactor:
            self.low_temperature_time += dt
            if self.low_temperature_time >= part.low_temperature_delay:
                self.low_temperature_closed = False
        else:
            self.low_temperature_time = 0.0
            if t_evaporating > part.low_temperature_reset:
                self.low_temperature_closed = True

    def _voltages(self, dt: float, call: bool, supply: float, faults: Faults) -> None:
        """Solve the 24 V network; the fuse heats with the square of its overload and melts."""
        part = self.part
        coil_ohm = 24.0 / part.coil_current
        # A worn contact of the safety string adds resistance; at severity 1 it is open.
        contact = 120.0 * faults.open_safety**2 if faults.open_safety < 1.0 else 1e9
        conductance = 1.0 / 400.0
        if self.output:
            conductance += 1.0 / (coil_ohm + contact)
        if self.cooling and call:
            conductance += 1.0 / 96.0
        if faults.control_short > 0.0 and call:
            conductance += 1.0 / (0.4 + 9.0 * (1.0 - faults.control_short))
        open_circuit = supply * part.transformer_ratio * (1.0 - faults.failing_transformer)
        current = 0.0
        if self.fuse_whole:
            current = open_circuit / (part.transformer_resistance + 1.0 / conductance)
            overload = (current / part.fuse) ** 2 - 1.2
            self.fuse_heat = max(0.0, self.fuse_heat + dt * (overload if overload > 0.0 else -0.5))
            if self.fuse_heat > 3.0:
                self.fuse_whole, current = False, 0.0
        secondary = open_circuit - current * part.transformer_resistance
        after_fuse = secondary if self.fuse_whole else 0.0
        after_high = after_fuse if self.high_pressure_closed else 0.0
        after_low = after_high if self.low_temperature_closed else 0.0
        loss = (after_low * contact / (coil_ohm + contact)) if self.output else 0.0
        after_contact = after_low - loss if faults.open_safety < 1.0 else 0.0
        coil = after_contact if self.output else 0.0
        self.contactor = coil > (part.drop_out if self.contactor else part.pull_in)
        self.chain = (
            ("supply_voltage", supply),
            ("transformer_primary_voltage", supply),
            ("transformer_secondary_voltage", secondary),
            ("control_voltage", after_fuse),
            ("after_high_pressure_switch", after_high),
            ("after_low_temperature_cut_out", after_low),
            ("after_condensate_switch", after_contact),
            ("contactor_coil_voltage", coil),
        )
