"""The sheet of a typed visit: rows as they come, what is declared, and what both mean at any moment."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from analysis.barometer import STANDARD_ATMOSPHERE_PA, parse_barometer
from analysis.circumstances import Circumstances, RatedCoil
from analysis.evidence import Visit, seen_value
from analysis.guards import Conflict, guards
from analysis.liquids import LiquidError, parse_liquid
from analysis.saturation import SaturationCurve
from analysis.typed_channels import Instruments, TypedError, TypedRow, typed_row
from analysis.typed_heat import (
    NOT_READ,
    HeatStatement,
    Valued,
    electric_power,
    heat_statement,
    hose_mass,
)
from analysis.typed_visit import Look, TypedVisit, barometer_effect, work_out
from analysis.units import Amount, Quantity, UnitError, parse_amount
from logger.errors import CommandError
from logger.setup_file import find_curve

Keep = Callable[[TypedRow], None]


@dataclass(slots=True)
class TypedSheet:
    """Rows and declarations of one typed visit."""

    circumstances: Circumstances = field(default_factory=Circumstances)
    refrigerant: str = ""
    barometer_pa: float = STANDARD_ATMOSPHERE_PA
    barometer_text: str = ""
    fluid_text: str = ""
    coil_text: str = ""
    instruments: Instruments = field(default_factory=Instruments)
    rated: float = float("nan")
    """Heat of the source water by the card [W]."""
    flow_band: tuple[float, float] = (float("nan"), float("nan"))
    power_factor: Valued | None = None
    who: str = ""
    rows: list[TypedRow] = field(default_factory=list)
    keep: Keep | None = None
    """Called with every row, for a session on disk."""

    @property
    def curve(self) -> SaturationCurve | None:
        """Saturation of the declared refrigerant."""
        return self.circumstances.refrigerant

    def enter(self, t_s: float, point: str, entry: str | Amount) -> TypedRow:
        """Take one entry.

        Raises
        ------
        TypedError
            If it cannot be right; nothing is kept then.
        """
        row = typed_row(t_s, point, entry, self.instruments, self.who)
        before = next((r for r in self.rows if r.point == point), None)
        if before is not None and before.channel.quantity is not row.channel.quantity:
            raise TypedError(
                f"{row.channel.label} was typed in {before.channel.unit} before; type it in that again."
            )
        if self.keep is not None:
            self.keep(row)
        self.rows.append(row)
        return row

    def result(self, now_s: float) -> TypedVisit:
        """Work everything out at a moment."""
        return work_out(self.rows, now_s, self.circumstances, barometer_pa=self.barometer_pa)

    def conflicts(self, found: TypedVisit) -> tuple[Conflict, ...]:
        """Find readings that cannot all be true of a machine as declared; the refrigerant is asked for."""
        known = self.circumstances
        values = {
            name: seen_value(name, now.value, now.u)
            for name, now in found.present.items()
            if now.look is not Look.OLD
        }
        visit = Visit(
            values, known.mode, self.refrigerant, known.refrigerant, known.source_liquid,
            barometer_pa=self.barometer_pa, barometer_declared=bool(self.barometer_text),
        )  # fmt: skip
        return guards(visit)

    def altitude_effect(self, found: TypedVisit) -> float:
        """Change of superheat per 300 m of altitude [K], where no barometer is declared; else NaN."""
        if self.barometer_text:
            return float("nan")
        return barometer_effect(found, self.rows, self.circumstances)

    def heat(self, found: TypedVisit) -> HeatStatement | None:
        """Say what water and power tell without gauges; None where no water was typed."""
        if not {"source_entering_temperature", "source_leaving_temperature"} & set(found.present):
            return None
        flow_gap = found.gap("source_volume_flow")
        flow = Valued(flow_gap.value, flow_gap.u) if flow_gap is not None else NOT_READ

        def at(name: str) -> Valued:
            value = found.present.get(name)
            return Valued(value.value, value.u) if value is not None else NOT_READ

        power = at("compressor_power")
        if not power.known:
            power = electric_power(at("supply_voltage"), at("compressor_current"), self.power_factor)
        return heat_statement(
            self.circumstances.source_liquid, flow, at("source_entering_temperature"),
            at("source_leaving_temperature"), power, self.circumstances.mode, rated=self.rated,
            flow_band=self.flow_band,
        )  # fmt: skip

    def hose(self) -> float:
        """Refrigerant in one hose full of liquid at 30 °C [kg]; NaN where none is declared."""
        return hose_mass(self.curve, 303.15) if self.curve is not None else float("nan")


def declare(
    *,
    refrigerant: str = "",
    mode: str = "",
    fluid: str = "",
    barometer: str = "",
    coil: str = "",
    gauge_class: str = "",
    clamp: str = "",
    water_matched: str = "",
    rated: str = "",
    flow_band: str = "",
    power_factor: str = "",
    who: str = "",
) -> TypedSheet:
    """Begin a sheet with what is declared; every text may be empty.

    Raises
    ------
    CommandError
        Where a text cannot be understood: one sentence with the option and what to write.
    """
    curve = find_curve(refrigerant) if refrigerant else None

    def read(option: str, text: str, parse: Callable[[str], object]) -> object:
        try:
            return parse(text) if text.strip() else None
        except (UnitError, LiquidError, TypedError, ValueError) as refused:
            raise CommandError(f"{option}: {refused}") from None

    liquid = read("--fluid", fluid, parse_liquid)
    pa = read("--barometer", barometer, parse_barometer)
    rated_coil = read("--coil", coil, RatedCoil.parse)
    band = read("--flow-band", flow_band, _band)
    heat = read("--rated", rated, lambda t: parse_amount(t, Quantity.HEAT_RATE).si)
    factor = read("--power-factor", power_factor, _factor)
    said = gauge_class or clamp or water_matched
    instruments = read("Instruments", said, lambda _: _instruments(gauge_class, clamp, water_matched))
    return TypedSheet(
        circumstances=Circumstances(curve, liquid, None, rated_coil, mode),  # type: ignore[arg-type]
        refrigerant=curve.name if curve is not None else "",
        barometer_pa=pa if isinstance(pa, float) else STANDARD_ATMOSPHERE_PA,
        barometer_text=barometer,
        fluid_text=fluid,
        coil_text=coil,
        instruments=instruments if isinstance(instruments, Instruments) else Instruments(),
        rated=heat if isinstance(heat, float) else float("nan"),
        flow_band=band if isinstance(band, tuple) else (float("nan"), float("nan")),
        power_factor=factor if isinstance(factor, Valued) else None,
        who=who,
    )


def _band(text: str) -> tuple[float, float]:
    low, separator, high = text.partition(" to ")
    amount = parse_amount(high, Quantity.VOLUME_FLOW) if separator else None
    if amount is None:
        raise UnitError(f"'{text}' is no band; write it like '0.55 to 0.65 L/s'.")
    first = parse_amount(low if low.strip()[-1:].isalpha() else f"{low} {amount.unit}", Quantity.VOLUME_FLOW)
    if not first.si < amount.si:
        raise UnitError(f"'{text}': the first flow must be the smaller one.")
    return first.si, amount.si


def _factor(text: str) -> Valued:
    try:
        value = float(text)
    except ValueError:
        raise ValueError(f"'{text}' is no power factor; write a plain number, 0.9.") from None
    if not 0.3 <= value <= 1.0:
        raise ValueError(f"a power factor lies between 0.3 and 1, not {text}.")
    return Valued(value, 0.01)


def _instruments(gauge_class: str, clamp: str, water_matched: str) -> Instruments:
    def kelvin(text: str, otherwise: float) -> float:
        return parse_amount(text, Quantity.TEMPERATURE_DIFFERENCE).si if text else otherwise

    try:
        share = float(gauge_class) if gauge_class else 1.0
    except ValueError:
        raise TypedError(f"'{gauge_class}' is no class of a gauge; write its percent, 1.0.") from None
    return Instruments(
        share, kelvin(clamp, 1.0), kelvin(water_matched, float("nan")), bool(gauge_class), bool(clamp)
    )
