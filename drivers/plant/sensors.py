"""The probes on the simulated machine: lag, clamp error, noise, quantisation, dropouts, slips of the hand."""

from __future__ import annotations

import math
import random
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from drivers.plant.faults import Faults
from drivers.plant.lines import CHANNELS


@dataclass(frozen=True, slots=True)
class Probe:
    """How one channel indicates.

    `lag` is its time constant [s]; `noise` the standard deviation and `offset` the fixed error in the
    channel's unit; `clamp` the share by which a clamp is drawn from the pipe towards the surrounding air;
    `loss` the chance that a reading is lost.
    """

    lag: float = 0.0
    noise: float = 0.0
    offset: float = 0.0
    clamp: float = 0.0
    loss: float = 0.0


@dataclass(frozen=True, slots=True)
class Dropout:
    """A span of plant time in which channels give nothing (empty names: all of them)."""

    start: float
    end: float
    names: tuple[str, ...] = ()


def built_probes(probes: Mapping[str, Probe], seed: int) -> dict[str, Probe]:
    """Give each probe the fixed error it was built with: drawn once per seed, the same in every phase.

    The standard deviation is half the channel's declared standard uncertainty, so that the clamp's error, the
    noise and the resolution find room in it too.

    Parameters
    ----------
    probes : mapping
    seed : int

    Returns
    -------
    dict
    """
    rng = random.Random(seed + 104729)  # noqa: S311 - errors of simulated probes
    return {
        name: replace(probe, offset=probe.offset + 0.5 * CHANNELS[name].uncertainty * rng.gauss(0.0, 1.0))
        for name, probe in sorted(probes.items())
    }


@dataclass(slots=True)
class Sensors:
    """Turns true values (in the channels' units) into indications, once per second."""

    probes: Mapping[str, Probe]
    rng: random.Random
    dropouts: tuple[Dropout, ...] = ()
    _held: dict[str, float] = field(default_factory=dict)

    def read(
        self, t: float, dt: float, true: Mapping[str, float], ambient: float, faults: Faults
    ) -> dict[str, float]:
        """Indicate every channel at plant time `t` [s].

        Parameters
        ----------
        t, dt : float [s]
        true : mapping
            Short name -> true value in the channel's unit (NaN: nothing to measure).
        ambient : float [degC]
        faults : Faults
            `probe_off` names a channel whose clamp hangs in the air; `swapped` two channels exchanged.

        Returns
        -------
        dict
            Short name -> indication; a lost reading is absent.
        """
        seen = dict(true)
        if faults.swapped is not None:
            a, b = faults.swapped
            seen[a], seen[b] = true[b], true[a]
        result: dict[str, float] = {}
        for name, probe in self.probes.items():
            # Every channel draws its numbers whether read or not, so one loss does not shift the others.
            lost = self.rng.random() < probe.loss
            noise = self.rng.gauss(0.0, 1.0) * probe.noise
            value = seen[name]
            if not math.isfinite(value):
                continue
            lag = probe.lag
            if CHANNELS[name].quantity == "temperature":
                if name == faults.probe_off:
                    value, lag = ambient, max(lag, 20.0)
                else:
                    value += probe.clamp * (ambient - value)
            held = self._held.get(name, value)
            held += (value - held) * (1.0 - math.exp(-dt / lag) if lag > 0.0 else 1.0)
            self._held[name] = held
            if lost or any(d.start <= t < d.end and (not d.names or name in d.names) for d in self.dropouts):
                continue
            step = CHANNELS[name].resolution
            result[name] = round(round((held + probe.offset + noise) / step) * step, 6) + 0.0
        return result
