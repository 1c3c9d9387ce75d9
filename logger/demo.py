"""The demonstration: a simulated machine, recorded through the real path, before and after its repair."""

from __future__ import annotations

import importlib.resources
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

import msgspec

from logger.app import Recording, open_recording
from logger.errors import NotAvailableError
from logger.setup_file import DeviceTable, Setup

PROFILE = "simulated_machine"


@dataclass(frozen=True, slots=True)
class Visit:
    """One recording of a story."""

    phase: str
    """As the simulated machine calls it."""
    recorded_as: str
    """Phase of the session."""
    utc: datetime
    happened: str
    """What the technician did before it."""
    story: str = ""
    """The simulated machine's story, where it has another name than ours."""


@dataclass(frozen=True, slots=True)
class Story:
    """A site of our own, with what a technician finds and does there."""

    name: str
    place: str
    mode: str
    refrigerant: str
    barometer: str
    fluid: str
    load_fluid: str
    source_coil: str
    """Rated flow and pressure drop of the source coil, from the unit card; empty where it is not known."""
    assign: dict[str, str]
    visits: tuple[Visit, ...]
    card: str
    """Name of its unit card among the shipped ones."""


_HALL_POINTS = {
    "suction_pressure": "ps", "discharge_pressure": "pd", "suction_temperature": "ts",
    "discharge_temperature": "td", "liquid_temperature": "tl", "source_entering_temperature": "si",
    "source_leaving_temperature": "so", "source_pressure_drop": "dp", "load_entering_temperature": "li",
    "load_leaving_temperature": "lo", "load_flow": "lf", "compressor_power": "pw", "pump_current": "pa",
    "supply_voltage": "vs", "control_voltage": "vc",
}  # fmt: skip
_BAKERY_POINTS = {
    "suction_pressure": "ps", "discharge_pressure": "pd", "suction_temperature": "ts",
    "discharge_temperature": "td", "liquid_temperature": "tl", "source_entering_temperature": "si",
    "source_leaving_temperature": "so", "source_pressure_drop": "dp", "return_air_temperature": "ra",
    "return_air_wet_bulb": "rw", "supply_air_temperature": "sa", "supply_air_wet_bulb": "sw",
    "compressor_power": "pw", "compressor_current": "ca", "supply_voltage": "vs", "control_voltage": "vc",
}  # fmt: skip

HALL = Story(
    name="hall",
    place="Community hall, unit 2",
    mode="heating",
    refrigerant="R410A",
    barometer="94.32 kPa(a)",
    fluid="propylene_glycol 25 % mass",
    load_fluid="water",
    source_coil="0.60 L/s at 28.8 kPa",
    assign=_HALL_POINTS,
    visits=(
        Visit("as-found", "as-found", datetime(2026, 1, 14, 9, 0, tzinfo=UTC), "nothing touched yet"),
        Visit(
            "water-right", "repair", datetime(2026, 1, 14, 10, 40, tzinfo=UTC),
            "strainer cleaned and pump capacitor renewed; refrigerant not touched",
        ),
        Visit(
            "as-left", "as-left", datetime(2026, 1, 14, 12, 30, tzinfo=UTC),
            "surplus refrigerant recovered and weighed",
        ),
    ),
    card="hall",
)  # fmt: skip
BAKERY = Story(
    name="bakery",
    place="Lakeside bakery",
    mode="cooling",
    refrigerant="R410A",
    barometer="14.38 psia",
    fluid="water",
    load_fluid="",
    source_coil="",
    assign=_BAKERY_POINTS,
    visits=(
        Visit(
            "dead", "rest", datetime(2026, 7, 8, 9, 45, tzinfo=UTC),
            "the machine does nothing: no control voltage",
        ),
        Visit(
            "as-found", "as-found", datetime(2026, 7, 8, 10, 40, tzinfo=UTC),
            "chafed control lead found and repaired, fuse renewed; the machine runs again",
        ),
        Visit("as-left", "as-left", datetime(2026, 7, 8, 14, 10, tzinfo=UTC), "source coil flushed"),
    ),
    card="bakery",
)  # fmt: skip
NIGHT = replace(
    HALL,
    name="night",
    visits=(
        Visit(
            "night", "night", datetime(2026, 1, 13, 21, 0, tzinfo=UTC),
            "left recording from 22:00 to 06:00 (local time), because it stops at night", "hall-night",
        ),
    ),
)  # fmt: skip
STORIES = {story.name: story for story in (HALL, BAKERY, NIGHT)}


@contextmanager
def simulated_machine(
    story: str, phase: str, *, speed: float, seconds: int | None = None, seed: int = 1
) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """Run the simulated machine in a process of its own; gives its address and the process.

    Raises
    ------
    NotAvailableError
        If it does not start.
    """
    command = [sys.executable, "-m", "drivers.plant", "--story", story, "--phase", phase, "--port", "0"]
    command += ["--speed", f"{speed:g}", "--seed", str(seed)]
    command += ["--seconds", str(seconds)] if seconds is not None else []
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:  # noqa: S603
        try:
            assert process.stdout is not None
            words = process.stdout.readline().split()
            if len(words) != 2 or words[0] != "listening":
                raise NotAvailableError("The simulated machine did not start; run the command again.")
            yield f"socket://{words[1]}", process
        finally:
            process.terminate()
            process.wait(timeout=10)


def setup_for(story: Story, visit: Visit, address: str, *, live: bool = False) -> Setup:
    """Write the set-up with which a visit is recorded."""
    return Setup(
        title=f"{story.place}: {visit.recorded_as}",
        refrigerant=story.refrigerant,
        barometer=story.barometer,
        fluid=story.fluid,
        load_fluid=story.load_fluid,
        source_coil=story.source_coil,
        mode=story.mode,  # type: ignore[arg-type]
        phase=visit.recorded_as,
        clock="computer" if live else "device",
        device=(DeviceTable(name="machine", profile=PROFILE, address=address),),
        assign={place: f"machine/{name}" for place, name in story.assign.items()},
    )


def open_visit(story: Story, visit: Visit, address: str, folder: Path, *, live: bool = False) -> Recording:
    """Make the session of a visit."""
    setup = setup_for(story, visit, address, live=live)
    start_utc_ns = None if live else int(visit.utc.timestamp()) * 1_000_000_000
    card = importlib.resources.files("logger") / "demo_cards" / f"{story.card}.toml"
    card_text = card.read_text(encoding="utf-8")
    return open_recording(
        setup,
        msgspec.toml.encode(setup).decode(),
        folder,
        beside=Path(),
        card_text=card_text,
        start_utc_ns=start_utc_ns,
    )


def session_folder(out: Path, story: Story, visit: Visit) -> Path:
    """Name the folder of a visit's session, as 2026-01-14-hall-as-found."""
    return out / f"{visit.utc:%Y-%m-%d}-{story.name}-{visit.recorded_as}"
