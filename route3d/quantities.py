"""What kinds of number there are: the unit of each in SI, US and metric, and the decimals shown."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Quantity:
    """What one kind of number is: its ``si`` unit, its unit in each system, decimals shown.

    ``units`` is the unit of a bare number in a model file and of every number printed.
    """

    name: str
    si: str
    units: dict[str, str]
    decimals: dict[str, int]
    shown: dict[str, str]
    example: str


def _quantity(
    name: str,
    si: str,
    us: str,
    metric: str,
    us_dec: int,
    si_dec: int,
    example: str,
    shown: str = "",
) -> Quantity:
    return Quantity(
        name,
        si,
        {"US": us, "SI": metric},
        {"US": us_dec, "SI": si_dec},
        {"US": us, "SI": shown or metric},
        example,
    )


QUANTITIES: dict[str, Quantity] = {
    q.name: q
    for q in (
        _quantity("length", "m", "ft", "m", 1, 2, "12.5 ft"),
        _quantity("diameter", "m", "in", "mm", 2, 1, "1.36 in"),
        _quantity("radius", "m", "in", "m", 1, 3, "48 in"),
        _quantity("tape", "m", "in", "mm", 2, 0, "3'-4 5/16\""),
        _quantity("area", "m**2", "in**2", "mm**2", 2, 0, "12.5 in2"),
        _quantity("conductor_area", "m**2", "kcmil", "mm**2", 0, 1, "350 kcmil"),
        _quantity("weight", "N/m", "lbf/ft", "kg/m", 2, 2, "1.98 lb/ft"),
        _quantity("mass", "kg", "lb", "kg", 0, 0, "800 lb"),
        _quantity("force", "N", "lbf", "N", 0, 2, "3500 lbf", shown="kN"),
        _quantity("sidewall", "N/m", "lbf/ft", "N/m", 0, 0, "500 lbf/ft"),
        _quantity("speed", "m/s", "ft/min", "m/min", 0, 1, "35 ft/min"),
        _quantity("stress", "Pa", "lbf/in**2", "N/mm**2", 0, 1, "70.2 N/mm2"),
        _quantity("angle", "rad", "deg", "deg", 1, 1, "90 deg"),
        _quantity("time", "s", "min", "min", 0, 0, "30 min"),
        _quantity("crew time", "s", "h", "h", 1, 1, "3 h"),
        _quantity("energy", "J", "ft*lbf", "J", 0, 0, "500 J"),
        _quantity("torque", "N*m", "lbf*ft", "N*m", 0, 0, "400 lbf ft"),
        _quantity("volume", "m**3", "gal", "L", 1, 1, "5 gal"),
        _quantity("concrete", "m**3", "yd**3", "m**3", 1, 2, "5 m3"),
        _quantity("voltage", "V", "kV", "kV", 1, 1, "15 kV"),
        _quantity("temperature", "K", "degF", "degC", 1, 1, "40 °F"),
        _quantity("ratio", "", "", "", 2, 2, "0.35"),
        _quantity("factor", "", "", "", 3, 3, "1.195"),
        _quantity("percent", "", "", "", 0, 0, "40"),
        _quantity("fine percent", "", "", "", 1, 1, "40.5"),
        _quantity("count", "", "", "", 0, 0, "3"),
    )
}
