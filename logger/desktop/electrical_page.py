"""What the electrical view and the shorts view are drawn from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from analysis.electrical_chain import ChainVerdict, Outcome
from analysis.electrical_motors import MotorVerdict
from logger.electrical_report import ElectricalReport
from logger.electrical_tables import BranchTable, CircuitTable, ElectricalTable
from logger.electrical_typing import Entry, chain_entries, circuit_of, hunt_entries, hunt_of

Part = Literal["shown", "typing", "isolation", "calls"]


@dataclass(frozen=True, slots=True)
class ElectricalPage:
    """One moment of the electrical work, with everything that the views may say about it."""

    table: ElectricalTable
    report: ElectricalReport
    """What the table and the session's own volts say together."""
    circuit: str = "control"
    part: Part = "shown"
    key: str = ""
    """Of the value that is typed."""
    digits: str = ""
    first: int = 0
    """Page of the list of values."""
    branches_first: int = 0
    """Page of the branches."""
    call: int = 0
    """Which of the calls is chosen."""
    loaded: bool | None = None
    kept: str = "nothing typed yet"
    """Where what was typed is kept, or why not."""
    if_kept: ElectricalReport | None = None
    """What the readings would say with the entry; None where there is none or it cannot be understood."""
    refused: str = ""
    """Why the entry cannot be kept."""

    @property
    def chain(self) -> ChainVerdict | None:
        """Verdict on the chosen circuit; None where nothing of it is read."""
        return chain_in(self.report, self.circuit)

    @property
    def typed_circuit(self) -> CircuitTable:
        """The chosen circuit as typed."""
        return circuit_of(self.table, self.circuit)

    @property
    def motor(self) -> MotorVerdict | None:
        """Verdict on the motor that the chosen circuit feeds."""
        names = (self.circuit, self.typed_circuit.kind)
        return next((motor for motor in self.report.motors if motor.name in names), None)

    @property
    def tells(self) -> bool:
        """Whether the chosen circuit has lost volts, or feeds a motor at fault."""
        chain, motor = self.chain, self.motor
        return (chain is not None and chain.loss is not None) or (motor is not None and bool(motor.supported))

    @property
    def branches(self) -> tuple[BranchTable, ...]:
        """The branches as typed."""
        return hunt_of(self.table).branch

    def entries(self, view: str) -> tuple[Entry, ...]:
        """List the values that can be typed in a view."""
        return hunt_entries(self.table) if view == "shorts" else chain_entries(self.table, self.circuit)

    def entry(self, view: str) -> Entry:
        """Give the value that is typed; the first one where none is chosen."""
        entries = self.entries(view)
        return next((entry for entry in entries if entry.key == self.key), entries[0])


def chain_in(report: ElectricalReport, circuit: str) -> ChainVerdict | None:
    """Find a circuit that was read at all; a circuit without a reading says nothing."""
    found = next((chain for chain in report.chains if chain.circuit == circuit), None)
    return None if found is not None and found.outcome is Outcome.NOT_READ else found
