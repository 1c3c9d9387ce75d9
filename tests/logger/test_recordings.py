"""What lies in recordings/ and in the README is true: examples load, commands exist."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from drivers.profile import find_profile
from logger.cli import build_parser
from logger.setup_file import load_setup

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize(
    "path", sorted((ROOT / "recordings" / "setups").glob("*.toml")), ids=lambda p: p.stem
)
def test_an_example_set_up_loads_and_names_channels_that_its_profiles_have(path: Path) -> None:
    setup, _ = load_setup(path)
    known = {
        f"{device.name}/{part.name}"
        for device in setup.device
        for part in find_profile(device.profile).channel
    }
    assert set(setup.assign.values()) <= known
    assert set(setup.offset) <= known


def commands() -> set[str]:
    (subparsers,) = (a for a in build_parser()._actions if a.dest == "command")
    assert subparsers.choices is not None
    return set(subparsers.choices)


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md", "CHANGELOG.md", "drivers/profiles/README.md"])
def test_every_command_that_a_page_names_exists(page: str) -> None:
    text = (ROOT / page).read_text(encoding="utf-8")
    named = set(re.findall(r"`(?:\.venv/bin/)?evenrun ([a-z][a-z-]+)", text))
    for block in re.findall(r"^```sh\n(.*?)^```", text, re.MULTILINE | re.DOTALL):
        named |= set(re.findall(r"^evenrun ([a-z][a-z-]+)", block, re.MULTILINE))
    assert named <= commands(), named - commands()


def test_every_command_stands_in_the_readme() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    missing = {name for name in commands() if f"evenrun {name}" not in text}
    assert not missing, missing


def test_links_in_the_pages_lead_somewhere() -> None:
    for page in ("README.md", "DEVELOPERS.md"):
        text = (ROOT / page).read_text(encoding="utf-8")
        for target in re.findall(r"\]\(([^)#:]+)\)", text):
            assert (ROOT / target).exists(), f"{page}: {target}"


def test_the_demonstrations_cards_are_the_ones_that_are_shown() -> None:
    shipped = sorted((ROOT / "logger" / "demo_cards").glob("*.toml"))
    assert shipped
    for path in shipped:
        assert path.read_bytes() == (ROOT / "recordings" / "cards" / path.name).read_bytes(), path.name
