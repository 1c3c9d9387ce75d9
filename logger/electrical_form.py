"""The interactive form of ``evenrun electrical``: volts, ohms and isolation typed one after the other."""

from __future__ import annotations

from datetime import datetime

import msgspec

from analysis.electrical_branches import USUAL_BRANCHES
from analysis.electrical_safety import cautions
from logger.asking import Asker, DoneError
from logger.electrical_file import points_of
from logger.electrical_tables import (
    AfterTable,
    BranchTable,
    CircuitTable,
    ElectricalTable,
    IsolationTable,
    LimitsTable,
    MotorTable,
    ReadingTable,
    ShortHuntTable,
    SupplyTable,
    TransformerTable,
    WindingsTable,
)

_KINDS = ("control", "compressor", "pump", "fan")


class ElectricalForm:
    """Asks for everything that a file could hold; what was typed before an interruption is kept."""

    def __init__(self, ask: Asker, technician: str = "") -> None:
        self._ask = ask
        self.table = ElectricalTable(technician=technician)

    def fill(self) -> ElectricalTable:
        """Ask until the person is done."""
        ask = self._ask
        ask.say("Before the first value:")
        for caution in cautions(None):
            ask.say(f"  {caution.text}")
        try:
            ask.line("Enter when read: ")
            plate = ask.number("plate voltage of the machine", "V")
            self._set(limits=LimitsTable(plate=plate))
            while True:
                what = ask.choice(
                    "What was read?", ("volts along a circuit", "short hunt", "a motor", "isolation")
                )
                if what == 0:
                    break
                (self._circuit, self._short_hunt, self._motor, self._isolation)[what - 1]()
        except DoneError:
            ask.say("Ended; what was typed so far counts.")
        return self.table

    def _set(self, **changed: object) -> None:
        self.table = msgspec.structs.replace(self.table, **changed)

    def _circuit(self) -> None:
        ask = self._ask
        kind = ask.choice("Which circuit?", _KINDS)
        if kind == 0:
            return
        name = _KINDS[kind - 1]
        call = ask.yes("Does the thermostat call?") if name == "control" else None
        loaded = ask.yes("Is the load switched on while you read?")
        table = CircuitTable(name=name, kind=name, call=call)  # type: ignore[arg-type]
        others = tuple(c for c in self.table.circuit if c.name != name)
        earlier = next((c for c in self.table.circuit if c.name == name), None)
        readings = list(earlier.reading) if earlier else []
        ask.say("Volts to the common of its side; Enter where not read.")
        for point in points_of(table):
            volts = ask.number(point.shown, "V")
            if volts:
                readings.append(ReadingTable(point=point.name, volts=volts, loaded=loaded, time=_now()))
            # Kept after every value, so that an interruption loses none.
            self._set(circuit=(*others, msgspec.structs.replace(table, reading=tuple(readings))))

    def _isolation(self) -> None:
        ask = self._ask
        who = ask.line("who isolated it: ")
        when = ask.line(f"when [Enter for {_now()}]: ") or _now()
        supplies = self._second_supplies()
        before = ask.yes("Was the meter proved on a live point before?")
        dead = ask.yes("Is absence of voltage proven at every point to be touched?")
        after = ask.yes("Was the meter proved again after?")
        self._set(
            isolation=IsolationTable(
                who=who,
                when=when,
                proven_dead=dead is True,
                meter_proved_before=before is True,
                meter_proved_after=after is True,
                second_supplies=supplies,
            )
        )

    def _second_supplies(self) -> tuple[SupplyTable, ...] | None:
        ask = self._ask
        usual = (
            "pump",
            "strip heat",
            "shore power",
            "generator or inverter",
            "control supply from elsewhere",
        )
        looked = ask.yes("Did you look for second supplies (pump, strip heat, shore power, generator)?")
        if not looked:
            return None
        found: list[SupplyTable] = []
        while (index := ask.choice("Which second supply is there?", usual)) != 0:
            found.append(SupplyTable(name=usual[index - 1], isolated=ask.yes("Is it isolated?")))
        return tuple(found)

    def _short_hunt(self) -> None:
        ask = self._ask
        ask.say("Transformer, live volts, if licensed:")
        volts = [
            ask.number(words, "V")
            for words in ("primary", "secondary, leads on", "secondary, leads lifted and held apart")
        ]
        va = ask.number("apparent power on its label", "VA").removesuffix(" VA")
        fuse = ask.number("fuse after it", "A")
        self._set(
            transformer=TransformerTable(
                primary=volts[0], secondary=volts[1], lifted=volts[2], va=float(va or 0.0), fuse=fuse
            )
        )
        if self.table.isolation is None:
            ask.say("Ohms are taken with the machine isolated and proven dead only:")
            self._isolation()
        leads = ask.number("ohms of the meter's own leads", "ohm")
        earthed = ask.yes("Is C bonded to earth?")
        branches: list[BranchTable] = []
        ask.say("Each branch lifted at both ends. For an open reading type 'open' or 9999999.")
        for name, load in USUAL_BRANCHES:
            seen = ask.number(f"{name}, volts on it before the ohms (Enter: none)", "V")
            to_common = _open(ask.number(f"{name}, to C", "ohm", also=("open",)))
            to_earth = _open(ask.number(f"{name}, to earth", "ohm", also=("open",)))
            repaired = ask.yes(f"{name}: found bad and repaired?") if to_common or to_earth else None
            branches.append(
                BranchTable(
                    name=name, load=load, volts=seen, to_common=to_common, to_earth=to_earth,
                    repaired=repaired is True, time=_now(),
                )
            )  # fmt: skip
            rest = tuple(BranchTable(name=n, load=k) for n, k in USUAL_BRANCHES[len(branches) :])
            self._set(
                short_hunt=ShortHuntTable(
                    meter_leads=leads, common_earthed=earthed, branch=(*branches, *rest)
                )
            )
        at_rest = ask.number("after the repair, R to C at rest", "V")
        under_load = ask.number("after the repair, R to C under load", "V")
        if at_rest or under_load:
            hunt = self.table.short_hunt
            after = AfterTable(at_rest=at_rest, under_load=under_load)
            assert hunt is not None, "set with the first branch"
            self._set(short_hunt=msgspec.structs.replace(hunt, after=after))

    def _motor(self) -> None:
        ask = self._ask
        kind = ask.choice("Which motor?", _KINDS[1:])
        if kind == 0:
            return
        name = _KINDS[kind]
        runs = ask.yes("Does it turn?")
        ask.say("Live, if licensed:")
        terminals = ask.number("volts at its terminals", "V")
        starting = "" if runs else ask.number("least volts there while it tries to start", "V")
        amps, rated = ask.number("amps", "A"), ask.number("amps on its card", "A")
        ask.say("Isolated and proven dead, capacitors discharged, leads off. A compressor's terminal can be")
        ask.say("driven out by pressure: measure at the contactor's end first, keep to one side.")
        capacitor, marked = ask.number("run capacitor", "uF"), ask.number("run capacitor, marked", "uF")
        ohms = [
            _open(ask.number(words, "ohm", also=("open",)))
            for words in ("C to S", "C to R", "S to R", "winding to earth")
        ]
        motor = MotorTable(
            name=name, runs=runs, terminals=terminals, terminals_starting=starting, amps=amps,
            rated_amps=rated,
            capacitor=capacitor, capacitor_marked=marked,
            windings=WindingsTable(c_s=ohms[0], c_r=ohms[1], s_r=ohms[2], to_earth=ohms[3]),
        )  # fmt: skip
        self._set(motor=(*(m for m in self.table.motor if m.name != name), motor))


def _open(text: str) -> str:
    """Turn the keypad's way of saying open into the word; coils and windings have no megohms."""
    return "open" if text.startswith("9999999") else text


def _now() -> str:
    return f"{datetime.now():%H:%M}"  # noqa: DTZ005, the clock on the wall
