"""The words and the text of a drafted profile: names from fields, guesses of quantities, TOML."""

from __future__ import annotations

import re

import msgspec

from drivers.decode import number

#: Beginnings of a field's name -> quantity and unit to propose; common practice, no source.
_GUESSES = (
    ("temp", "temperature", "degC"), ("t", "temperature", "degC"), ("press", "gauge_pressure", "bar(g)"),
    ("p", "gauge_pressure", "bar(g)"), ("hum", "relative_humidity", "%"), ("rh", "relative_humidity", "%"),
    ("flow", "volume_flow", "L/min"), ("volt", "voltage", "V"), ("u", "voltage", "V"),
    ("curr", "current", "A"), ("i", "current", "A"), ("power", "power", "W"),
)  # fmt: skip


def split_pairs(text: str, separator: str, assign: str) -> dict[str, float] | None:
    """Read ``name=value`` fields, or None if they are not all of that form."""
    pairs: dict[str, float] = {}
    for part in text.split(separator):
        name, found, value = part.partition(assign)
        read = number(value.strip())
        if not found or read is None or not name.strip() or name.strip() in pairs:
            return None
        pairs[name.strip()] = read
    return pairs


def numbers_in(found: object, path: str = "", depth: int = 0) -> dict[str, float]:
    """Paths of all numbers in a decoded object."""
    if depth > 6:
        return {}
    if isinstance(found, int | float) and not isinstance(found, bool) and abs(found) < 1e99:
        return {path: float(found)}
    items = found.items() if isinstance(found, dict) else enumerate(found) if isinstance(found, list) else ()
    numbers: dict[str, float] = {}
    for key, value in items:
        if "." not in str(key):
            numbers |= numbers_in(value, f"{path}.{key}" if path else str(key), depth + 1)
    return numbers


def plain(text: str) -> str:
    """Write a text with letters, digits and underscores only."""
    return re.sub(r"[^A-Za-z0-9_]+", "_", text).strip("_").lower()


def channel_names(fields: list[str]) -> list[str]:
    """Give each field a channel name of its own."""
    names: list[str] = []
    for index, field in enumerate(fields, 1):
        words = re.findall(r"[A-Za-z_][A-Za-z0-9_]*", field)
        name = plain("_".join(words)) or f"value{index}"
        if name[0].isdigit():
            name = f"v{name}"
        names.append(name if name not in names else f"{name}_{index}")
    return names


def guess(name: str) -> tuple[str, str]:
    """Propose quantity and unit for a field by its name."""
    simple = plain(name)
    for beginning, quantity, unit in _GUESSES:
        if simple.startswith(beginning):
            return quantity, unit
    return "ratio", "1"


def by_unit(unit: str) -> tuple[str, str]:
    """Give quantity and unit for the unit of a sentence."""
    known = {
        "degC": ("temperature", "degC"), "bar": ("gauge_pressure", "bar(g)"),
        "Pa": ("absolute_pressure", "Pa(a)"),
        "%": ("relative_humidity", "%"), "L/s": ("volume_flow", "L/s"), "Hz": ("frequency", "Hz"),
        "rpm": ("rotation", "rpm"), "m3": ("volume", "m3"), "V": ("voltage", "V"), "A": ("current", "A"),
    }  # fmt: skip
    return known.get(unit, ("ratio", "1"))


def quoted(text: str) -> str:
    """Write a TOML string."""
    return msgspec.json.encode(text).decode()


def channel_text(name: str, quantity: str, unit: str, interval: float, more: str) -> str:
    """Write one channel."""
    return (
        f'\n[[channel]]\nname = "{name}"\nquantity = "{quantity}"\nunit = "{unit}"\n{more}'
        f"expected_interval_s = {interval:.3g}\n"
    )


def example_text(line: str, values: dict[str, float]) -> str:
    """Write one example."""
    pairs = "".join(f"{quoted(name)} = {value!r}\n" for name, value in values.items())
    return f"\n[[example]]\ntext = {quoted(line)}\n[example.values]\n{pairs}"
