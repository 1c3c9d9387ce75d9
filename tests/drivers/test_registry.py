"""Kinds: ours, plug-ins, and a broken plug-in that stops nobody."""

from __future__ import annotations

import asyncio
from importlib.metadata import EntryPoint

import pytest

from drivers.base import ProfileError
from drivers.profile import find_profile, load_profile
from drivers.registry import GROUP, Context, Wanted, load_kinds, make_adapter
from drivers.typed import Typed


def test_a_broken_plug_in_is_reported_and_stops_nobody() -> None:
    kinds = load_kinds(
        installed=[
            EntryPoint("missing", "no_such_package_anywhere:KIND", GROUP),
            EntryPoint("absent", "drivers.base:KIND", GROUP),
            EntryPoint("number", "drivers.framing:LIMIT", GROUP),
            EntryPoint("typed", "drivers.framing:LineFramer", GROUP),
        ]
    )
    assert "cannot be loaded: ModuleNotFoundError" in kinds.broken["missing"]
    assert "AttributeError" in kinds.broken["absent"]
    assert "is not a drivers.registry.Kind" in kinds.broken["number"]
    assert kinds.known["typed"].make.__module__ == "drivers.typed"
    assert "serial_lines" in kinds.known
    with pytest.raises(ProfileError, match="cannot be loaded"):
        kinds.named("missing")
    with pytest.raises(ProfileError, match="'serial_line' is not a kind of adapter; there are serial_lines"):
        kinds.named("serial_line")


def test_a_plug_in_may_not_take_our_names() -> None:
    kinds = load_kinds(installed=[EntryPoint("typed", "drivers.scpi:KIND", GROUP)])
    assert kinds.known["typed"].name == "typed"
    assert any("which is taken" in sentence for sentence in kinds.broken.values())


def test_only_the_wanted_kind_is_loaded() -> None:
    assert set(load_kinds("typed", installed=[]).known) == {"typed"}


@pytest.mark.parametrize(
    "name",
    ["simulated_machine", "probe_board", "nmea_water", "scpi_meter", "modbus_meter", "onewire_thermometers"],
)
def test_each_shipped_profile_makes_its_adapter(name: str) -> None:
    async def main() -> None:
        adapter = make_adapter(Wanted("probe", find_profile(name), "/dev/none"), Context())
        assert adapter.name == "probe"

    asyncio.run(main())


def test_stations_on_one_port_share_their_bus() -> None:
    async def main() -> None:
        context = Context()
        profile = find_profile("modbus_meter")
        one = make_adapter(Wanted("one", profile, "/dev/a", {"station": 1}), context)
        two = make_adapter(Wanted("two", profile, "/dev/a", {"station": 2}), context)
        other = make_adapter(Wanted("three", profile, "/dev/b"), context)
        buses = [vars(adapter)["_bus"] for adapter in (one, two, other)]
        assert buses[0] is buses[1]
        assert buses[0] is not buses[2]
        with pytest.raises(ProfileError, match="from 1 to 247"):
            make_adapter(Wanted("x", profile, "/dev/a", {"station": 0}), context)

    asyncio.run(main())


def test_a_profile_without_kind_is_told_what_to_write() -> None:
    text = 'title = "x"\n[[channel]]\nname = "a"\nquantity = "ratio"\nunit = "1"\n'
    profile = load_profile(text, "x")
    with pytest.raises(ProfileError, match="does not say its kind"):
        make_adapter(Wanted("x", profile), Context())
    assert isinstance(make_adapter(Wanted("x", profile), Context(), kind="typed"), Typed)


def test_what_is_shared_is_closed_once_whatever_it_does() -> None:
    closed = []

    class Thing:
        def __init__(self, name: str, *, fails: bool = False) -> None:
            self.name, self.fails = name, fails

        async def aclose(self) -> None:
            closed.append(self.name)
            if self.fails:
                raise OSError("no")

    async def main() -> None:
        context = Context()
        assert context.shared("a", lambda: Thing("a")) is context.shared("a", lambda: Thing("other"))
        context.shared("b", lambda: Thing("b", fails=True))
        await context.aclose()
        await context.aclose()

    asyncio.run(main())
    assert closed == ["b", "a"]
