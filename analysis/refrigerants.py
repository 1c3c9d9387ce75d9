"""Names, safety classes and refusals of refrigerants.

Safety classes are those of ISO 817 and ASHRAE 34 (A lower, B higher toxicity; 1 no flame propagation,
2L lower burning velocity, 2 flammable, 3 higher flammability), entered from memory: read the class on the
cylinder before work with a flame.
"""

from __future__ import annotations

from types import MappingProxyType

#: Canonical name -> safety class, for every refrigerant with a table under analysis/tables.
SAFETY_CLASSES = MappingProxyType(
    {
        "R12": "A1",
        "R22": "A1",
        "R32": "A2L",
        "R123": "B1",
        "R134a": "A1",
        "R290": "A3",
        "R404A": "A1",
        "R407A": "A1",
        "R407C": "A1",
        "R407F": "A1",
        "R407H": "A1",
        "R410A": "A1",
        "R417A": "A1",
        "R421A": "A1",
        "R422B": "A1",
        "R422D": "A1",
        "R427A": "A1",
        "R427C": "A1",
        "R434A": "A1",
        "R448A": "A1",
        "R449A": "A1",
        "R450A": "A1",
        "R452A": "A1",
        "R452B": "A2L",
        "R454A": "A2L",
        "R454B": "A2L",
        "R454C": "A2L",
        "R455A": "A2L",
        "R459A": "A2L",
        "R466A": "A1",
        "R474A": "A2L",
        "R500": "A1",
        "R502": "A1",
        "R507A": "A1",
        "R513A": "A1",
        "R600a": "A3",
        "R717": "B2L",
        "R744": "A1",
        "R1233zd(E)": "A1",
        "R1234yf": "A2L",
        "R1234ze(E)": "A2L",
    }
)

#: Blends in service whose components the property library cannot combine: some pair has no published
#: mixing parameters, and an estimate can be several kelvin off.
REFUSED = frozenset(
    {
        "R401A",
        "R402A",
        "R408A",
        "R409A",
        "R414B",
        "R416A",
        "R424A",
        "R437A",
        "R438A",
        "R453A",
        "R458A",
        "R468A",
        "R515A",
        "R515B",
    }
)

_ALIASES = MappingProxyType(
    {
        "PROPANE": "R290",
        "ISOBUTANE": "R600a",
        "AMMONIA": "R717",
        "NH3": "R717",
        "CARBONDIOXIDE": "R744",
        "CO2": "R744",
        "R507": "R507A",
        "R1234ZE": "R1234ze(E)",
        "R1233ZD": "R1233zd(E)",
    }
)

WAY_OUT = "load a pressure-temperature table (CSV) from the cylinder maker's data instead"


class UnknownRefrigerant(ValueError):  # noqa: N818, named for what was asked
    """The name is none that evenrun knows."""


class RefusedRefrigerant(ValueError):  # noqa: N818, as above
    """The refrigerant is known, but there is no trustworthy equation for it here."""


def _key(name: str) -> str:
    """Reduce a name to letters and digits in capitals, so that R-1234ze(E), r1234ze e and R1234ZEE meet."""
    return "".join(character for character in name.upper() if character.isalnum())


_BY_KEY = {_key(name): name for name in (*SAFETY_CLASSES, *REFUSED)}


def canonical_name(name: str) -> str:
    """Find the canonical name of a refrigerant.

    Capitals, spaces, hyphens, brackets and the leading letter do not matter; common chemical names of
    single-component refrigerants are understood.

    Parameters
    ----------
    name
        As a person writes it, such as ``R-410A``, ``410a`` or ``propane``.

    Returns
    -------
    str
        Canonical name, such as ``R410A``.

    Raises
    ------
    UnknownRefrigerant
        When no refrigerant has that name; the message gives near names and the way out.
    RefusedRefrigerant
        When the refrigerant is known but cannot be worked out here; the message gives the way out.

    Examples
    --------
    >>> canonical_name("r-410a"), canonical_name("134A"), canonical_name("propane")
    ('R410A', 'R134a', 'R290')
    """
    key = _key(name)
    for candidate in (key, "R" + key):
        found = _BY_KEY.get(candidate) or _ALIASES.get(candidate)
        if found in REFUSED:
            raise RefusedRefrigerant(
                f"{found} cannot be worked out reliably: no mixing data for all its components; {WAY_OUT}."
            )
        if found:
            return found
    raise UnknownRefrigerant(f'"{name}" is no refrigerant known here{_nearest(key)}; or {WAY_OUT}.')


def _nearest(key: str) -> str:
    import difflib  # only for the message

    wanted = key if key.startswith("R") else "R" + key
    typed = wanted.translate(str.maketrans("OIL", "011"))  # letters that look like figures
    near = [typed] if typed in _BY_KEY else difflib.get_close_matches(wanted, list(_BY_KEY), n=3, cutoff=0.6)
    names = [_BY_KEY[match] for match in near]
    if not names:
        return ": give its number, such as R410A"
    return f": did you mean {' or '.join(names)}"


def table_module(name: str) -> str:
    """Return the name of the module under analysis.tables that holds a refrigerant's curves.

    Parameters
    ----------
    name
        Canonical name.

    Returns
    -------
    str
        Such as ``r1234ze_e`` for R1234ze(E).
    """
    return name.lower().replace("(", "_").replace(")", "")
