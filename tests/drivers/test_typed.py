"""Readings typed by hand."""

from __future__ import annotations

import asyncio
import math
import threading

import pytest

from analysis.measure import Channel, Quality
from analysis.units import Quantity
from drivers.base import LinkState, Timing
from drivers.profile import find_profile
from drivers.registry import Context, Wanted, make_adapter
from drivers.typed import EntryError, Typed
from tests.drivers.peers.watching import Supervised

PRESSURE = Channel("hand/ps", Quantity.GAUGE_PRESSURE, "psig", expected_interval_s=0.01)
QUICK = Timing(drain_interval=0.005, silent_at_least=0.02)


def test_entries_come_out_with_their_moment_and_are_never_called_silent() -> None:
    async def main() -> None:
        typed = Typed("hand", [PRESSURE])
        async with Supervised(typed, QUICK) as run:
            threading.Thread(target=typed.enter, args=("hand/ps", 128.0)).start()
            await run.until(lambda: run.counts.readings == 1)
            typed.enter("ps", None, t_mono_ns=5)
            await run.until(lambda: run.counts.readings == 2)
            await asyncio.sleep(0.2)
            first, second = run.seen.readings
            assert (first.value, first.quality) == (128.0, Quality.ESTIMATED_TIME)
            assert (second.t_mono_ns, second.value) == (5, None)
            assert second.quality & Quality.NOT_KNOWN
            assert run.seen.states == [LinkState.CONNECTING, LinkState.LIVE]

    asyncio.run(main())


def test_channels_may_be_added_while_running() -> None:
    async def main() -> None:
        typed = Typed("hand")
        async with Supervised(typed, QUICK) as run:
            await run.live()
            typed.add(PRESSURE)
            typed.enter("ps", 1.0)
            await run.until(lambda: run.counts.readings == 1)
            assert [channel.id for channel in run.seen.channels[-1].channels] == ["hand/ps"]

    asyncio.run(main())


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_no_number_is_no_entry(value: float) -> None:
    with pytest.raises(EntryError, match="must be a number"):
        Typed("hand", [PRESSURE]).enter("ps", value)


def test_unknown_and_foreign_channels() -> None:
    typed = Typed("hand", [PRESSURE])
    with pytest.raises(EntryError, match="no channel 'pd' to type into; there is ps"):
        typed.enter("pd", 1.0)
    with pytest.raises(EntryError, match="must begin with 'hand/'"):
        typed.add(Channel("other/x", Quantity.RATIO, "1"))


def test_a_profile_gives_the_channels_and_how_long_an_entry_stands() -> None:
    typed = make_adapter(Wanted("hand", find_profile("typed_gauges"), options={"hold_s": 600}), Context())
    assert isinstance(typed, Typed)
    assert {channel.hold for channel in typed.channels} == {600.0}
