"""A profile's own tests: its examples decoded, and bytes that a person wants to see decoded."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from drivers.base import ProfileError
from drivers.profile import Profile
from drivers.profile_sections import Example
from drivers.registry import Kind, Outcome, load_kinds

_NEAR = 1e-6
"""Share by which a value may differ: that of single-precision registers."""


@dataclass(slots=True)
class ProfileReport:
    """What checking a profile found."""

    passed: int = 0
    failures: list[str] = field(default_factory=list)
    """One sentence for each example that does not come out as it says."""
    decoded: list[str] = field(default_factory=list)
    """What the given bytes mean, a line each."""
    remarks: list[str] = field(default_factory=list)
    """What would make the profile better; no faults."""

    @property
    def good(self) -> bool:
        """Whether nothing is wrong."""
        return not self.failures


_FAULT_WORDS = {
    "truncated": "the end, or a field that must be there, is missing",
    "joined": "two lines ran together",
    "non_ascii": "it holds bytes that are no plain text",
    "checksum": "the checksum does not fit",
    "no_match": "it is not of the form that the profile describes",
    "over_long": "it is longer than any line of this device",
}


def check_profile(profile: Profile, data: bytes | None = None) -> ProfileReport:
    """Run the examples of a profile, and decode bytes with it.

    Parameters
    ----------
    profile
        As loaded.
    data
        A line, a characteristic's bytes or registers, to be shown decoded.

    Raises
    ------
    ProfileError
        If the profile's kind is not known or cannot decode bytes by itself.
    """
    kind = load_kinds(profile.kind or "serial_lines").named(profile.kind or "serial_lines")
    report = ProfileReport()
    for number, example in enumerate(profile.example, 1):
        values, fault = _decode(kind, profile, example)
        wrong = _differences(example, values, fault)
        if wrong:
            report.failures.append(f"Example {number}: {'; '.join(wrong)}.")
        else:
            report.passed += 1
    if data is not None:
        values, fault = _decode(kind, profile, Example(hex=data.hex()))
        if fault:
            words = f"{_FAULT_WORDS[fault]} (fault '{fault}')" if fault in _FAULT_WORDS else fault
            report.decoded.append(f"refused: {words}")
        for name, value in values.items():
            unit = profile.channel_named(name).unit
            report.decoded.append(
                f"{name} = {value} {unit}" if isinstance(value, float) else f"{name}: {value}"
            )
    if not profile.example:
        report.remarks.append("There is no [[example]]; add what the instrument sent and what it showed.")
    report.remarks += [
        f"Channel '{part.name}' states no uncertainty; results that use it will have none."
        for part in profile.channel
        if part.uncertainty is None
    ]
    if profile.line is not None and profile.line.checksum == "none":
        report.remarks.append("Lines carry no checksum: a digit lost inside a number cannot be told.")
    return report


def _decode(kind: Kind, profile: Profile, example: Example) -> Outcome:
    if kind.example is None:
        raise ProfileError(f"Profiles of the kind '{kind.name}' cannot be checked without the device.")
    return kind.example(profile, example)


def _differences(example: Example, values: dict[str, float | str], fault: str) -> list[str]:
    if fault != example.fault:
        return [f"the fault is '{fault or 'none'}' and should be '{example.fault or 'none'}'"]
    wrong = []
    for name, expected in example.values.items():
        got = values.get(name)
        if isinstance(expected, str) or not isinstance(got, float | int):
            same = got == expected
        else:
            same = math.isclose(got, expected, rel_tol=_NEAR, abs_tol=_NEAR)
        if not same:
            wrong.append(f"'{name}' is {got} and should be {expected}")
    wrong += [f"'{name}' comes out too ({values[name]})" for name in values if name not in example.values]
    return wrong
