"""Made-up pages on which a visit is set up: for pictures and for audits."""

from __future__ import annotations

from dataclasses import replace

from analysis.presets import PresetName
from analysis.units import Quantity
from logger.desktop.amounts import amount
from logger.desktop.find_page import FindPage, Row
from logger.desktop.key_page import Offer
from logger.desktop.scene_find import KEYS
from logger.desktop.session_desk import FIRST_REFRIGERANTS, LIQUIDS

_FOUND = (
    Row("probe set", "serial port · fits probe_board · seen 0:06 ago", "visit take 0"),
    Row("clamp pair", "Bluetooth · signal good · environmental sensing · seen 0:04 ago", "visit take 1"),
    Row("flow meter", "serial port · profile not known · seen 0:06 ago", "visit take 2"),
    Row("room sensor", "Bluetooth broadcast · signal weak · temperature · seen 0:02 ago", "visit take 3"),
)
_TAKEN = (
    Row("probe set", "probe_board, serial port · 4 channels read, live", "visit take 0", True),
    Row("clamp pair", "clamp-pair, Bluetooth · 2 channels read, newest 3 s ago", "visit take 1", True),
    *_FOUND[2:],
)
_LONG = "the-very-long-name-of-a-four-probe-box-with-radio-and-a-second-name"
_TROUBLES = (
    "Bluetooth is switched off: switch it on, then look again; on some computers it is a key with an aerial.",
    "You may not open /dev/ttyUSB0: add yourself to the group dialout, then log in again.",
)
_CHANNELS = (
    ("suction pressure", Quantity.GAUGE_PRESSURE, 515_000.0, "suction pressure"),
    ("discharge pressure", Quantity.GAUGE_PRESSURE, 2_459_000.0, "discharge pressure"),
    ("suction line", Quantity.TEMPERATURE, 270.75, "suction line"),
    ("one", Quantity.TEMPERATURE, 277.15, "not joined"),
    ("two", Quantity.TEMPERATURE, 270.75, "not joined"),
)


def staged_finds(preset: PresetName = "si") -> dict[str, FindPage]:
    """Give made-up pages by name."""
    base = FindPage(
        looking="looking, 5 s more", still_looking=True, refrigerants=FIRST_REFRIGERANTS[:KEYS],
        last="2026-01-14-1030-visit", again="2 devices, R410A",
    )  # fmt: skip
    found = replace(base, rows=_FOUND, looking="looked 0:02 ago", still_looking=False)
    taken = replace(
        found, rows=_TAKEN, taken=2, joined=4, channels=6, refrigerant="R410A", mode="heating",
        fluid="propylene glycol 25 % mass",
    )  # fmt: skip
    wrong = replace(
        _TAKEN[0], told="nothing it sends fits its profile: touch it to choose another",
        trouble="WRONG PROFILE",
    )  # fmt: skip
    off = "Bluetooth is switched off: switch it on and look again"
    lost = replace(_TAKEN[1], told=off, trouble="NEEDS YOU")
    many = tuple(Row(f"{_LONG}-{n}", f"{_LONG} · {_LONG}", f"visit take {n}", n % 2 == 0) for n in range(12))
    channels = tuple(
        Offer(word, f"visit channel a/{n}", f"{amount(quantity, value, preset).text} · {point}")
        for n, (word, quantity, value, point) in enumerate(_CHANNELS)
    )
    refrigerants = tuple(Offer(f"R{400 + n}A", f"visit refrigerant R{400 + n}A") for n in range(41))
    fluids = tuple(Offer(text.replace("_", " "), f"visit fluid {text}") for text in LIQUIDS)
    profiles = tuple(
        Offer(f"{word}: a pattern to copy", f"visit profile {word}", word.lower())
        for word in ("Electricity meter on Modbus", "Meter that answers questions", _LONG)
    )
    return {
        "taken": taken,
        "looking": base,
        "found": found,
        "nothing": replace(base, looking="looked 0:31 ago", still_looking=False, again="", last=""),
        "no-radio": replace(
            base, looking="looked 0:31 ago", still_looking=False, troubles=_TROUBLES, again="", last=""
        ),
        "troubled": replace(
            taken, rows=(wrong, lost, *_TAKEN[2:]), troubles=_TROUBLES[:1], channels=0, joined=0,
            waiting="probe_board: nothing it sends fits its profile: touch it to choose another",
        ),
        "waiting": replace(taken, waiting=f"{_LONG}: searching", refrigerant="R448A", mode="", fluid=""),
        "many": replace(taken, rows=many, page=1, last=_LONG, again=_LONG, taken=6),
        "channels": replace(
            taken, question="touch the channel that feeds another measuring point", offers=channels
        ),
        "refrigerants": replace(
            taken, question="which refrigerant is in the machine?", offers=refrigerants, page=1
        ),
        "fluids": replace(taken, question="what flows in the source circuit?", offers=fluids),
        "profiles": replace(taken, question=f"which profile does {_LONG} {_LONG} speak?", offers=profiles),
        "starting": replace(taken, busy="STARTING the recording"),
    }  # fmt: skip
