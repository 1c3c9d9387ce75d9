"""How the reading of a proof is taken: each act with the one condition in which it is safe."""

from __future__ import annotations

from collections.abc import Iterable

from analysis.finding_acts import Act, Safe, isolated, relieved, running, stopped
from analysis.proofs import Proof, Verdict

_BAND = "Clamp the probe on clean pipe, insulate it, and read when the machine is steady."
ACTS: dict[str, tuple[Act, ...]] = {
    "water_proven": (
        running("Read flow by its route, water in and out; compare both probes in one cup first."),
        stopped("Read the loop's standing pressure with the pump at rest."),
    ),
    "freeze_margin": (
        running("Read the suction pressure three minutes after a start or later; stop it near freezing."),
        stopped("Measure the mixture with a refractometer, and read the cut-out's setting."),
    ),
    "superheat_in_band": (running(_BAND),),
    "subcooling_in_band": (running(_BAND),),
    "heat_balance": (running("Read both water sides and the power in the same steady minutes."),),
    "supply_voltage_in_band": (
        running("Live work, for those qualified: read the supply, meter category III or more."),
    ),
    "supply_under_load": (
        running("Live work, for those qualified: read the supply again while it runs."),
    ),
    "control_voltage_in_band": (
        running("Live work, for those qualified: read R to C while the contactor's coil is fed."),
    ),
    "pump_capacitor": (
        isolated("Discharge the capacitor through a resistor, lift the lead, then measure its capacitance."),
    ),
    "source_static_gauge_in_band": (stopped("Read the loop's gauge with the pump at rest."),),
    "standing_pressure": (stopped("Let both sides equalise, then read pressure and temperature."),),
    "desuperheater": (
        running("Read its water in and out and the discharge line; hot pipes and water scald."),
        isolated("Before its pump is touched: it may have a supply of its own."),
    ),
    "purge": (
        stopped("Flush with the machine off; dead-head the cart and watch its level."),
        relieved("Undo a hose only when its pressure is relieved and the water is not hot."),
    ),
    "liquid_pressure_decay": (
        stopped("Keep below the lowest stated pressure of every part; stand clear while it rises."),
        relieved("Take the test fittings off only when the pressure is relieved."),
    ),
    "nitrogen_pressure_test": (
        isolated("Dry nitrogen through a regulator and relief valve: never oxygen, air or a flammable gas. "
                 "Keep below the lowest stated pressure, raise it in steps, stand clear."),
        relieved("Vent the nitrogen outdoors or into moving air before a joint is loosened: it suffocates."),
    ),
    "vacuum_rise": (
        isolated("Never start or megger a compressor under vacuum. Shut the pump off, then read the gauge at "
                 "the far side for ten minutes or more."),
    ),
    "leak_test": (
        isolated("Try the detector on a known leak, then each place; ventilate; no flame near A2L or A3."),
    ),
    "refrigerant_ledger": (
        stopped("Weigh the cylinder before and after; licensed work, nothing is vented, 80 % full at most."),
    ),
    "run_in": (running("Read the same points again after a day, best also after a week."),),
}  # fmt: skip
"""Proof code to acts. Common practice, no source; local codes and the maker's instructions go first."""


def how_to_get(proofs: Iterable[Proof]) -> dict[Safe, list[str]]:
    """Gather the acts of proofs that are not met yet, by condition; conditions are never mixed.

    Examples
    --------
    >>> how_to_get([Proof("run_in", "", Verdict.CANNOT_SAY, ())])[Safe.WHILE_RUNNING]
    ['Read the same points again after a day, best also after a week.']
    """
    grouped: dict[Safe, list[str]] = {}
    acts = [act for proof in proofs if proof.verdict is not Verdict.MET for act in ACTS.get(proof.code, ())]
    for safe in Safe:
        texts = list(dict.fromkeys(act.text for act in acts if act.safe is safe))
        if texts:
            grouped[safe] = texts
    return grouped
