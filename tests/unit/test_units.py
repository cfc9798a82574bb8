"""Reading what people type, and above all refusing what would be misread."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from route3d.errors import UnitError
from route3d.phrase import say
from route3d.quantities import QUANTITIES
from route3d.units import (
    GRAVITY,
    SYSTEMS,
    convert,
    parse,
    render,
    show,
    show_marked,
    tape,
    unit_label,
    written,
)

INCH, FOOT, POUND_FORCE = 0.0254, 0.3048, 4.4482216152605  # exact by definition (1959; CGPM 1901)

# --- plain and trade forms ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "quantity", "si"),
    [
        ("12.5 ft", "length", 12.5 * FOOT),
        ("12.5ft", "length", 12.5 * FOOT),
        (" 12.5  feet ", "length", 12.5 * FOOT),
        ("1.2 m", "length", 1.2),
        ("1200 mm", "length", 1.2),
        ("1.2e3 mm", "length", 1.2),
        (".5 m", "length", 0.5),
        ("5. m", "length", 5.0),
        ("-5 ft", "length", -5 * FOOT),
        ("−5 ft", "length", -5 * FOOT),  # the printed minus
        ("48 in", "radius", 48 * INCH),
        ("350 kcmil", "conductor_area", 350e3 * math.pi / 4 * (INCH / 1000) ** 2),
        ("350 MCM", "conductor_area", 350e3 * math.pi / 4 * (INCH / 1000) ** 2),
        ("240 mm2", "conductor_area", 240e-6),
        ("240 mm²", "conductor_area", 240e-6),
        ("240 mm^2", "conductor_area", 240e-6),
        ("240 sq mm", "conductor_area", 240e-6),
        ("240 sq. mm", "conductor_area", 240e-6),
        ("0.5 sq in", "conductor_area", 0.5 * INCH**2),
        ("0.5 in^2", "area", 0.5 * INCH**2),
        ("0.5 in²", "area", 0.5 * INCH**2),
        ("12.5 sq ft", "area", 12.5 * FOOT**2),
        ("1.98 lb/ft", "weight", 1.98 * POUND_FORCE / FOOT),
        ("1.98 lbf/ft", "weight", 1.98 * POUND_FORCE / FOOT),
        ("1980 lb/kft", "weight", 1.98 * POUND_FORCE / FOOT),
        ("3 kg/m", "weight", 3 * GRAVITY),
        ("29.4 N/m", "weight", 29.4),
        ("3500 lbf", "force", 3500 * POUND_FORCE),
        ("3.5 kip", "force", 3500 * POUND_FORCE),
        ("15.5 kN", "force", 15500.0),
        ("300 kgf", "force", 300 * GRAVITY),
        ("500 lbf/ft", "sidewall", 500 * POUND_FORCE / FOOT),
        ("300 kgf/m", "sidewall", 300 * GRAVITY),
        ("35 ft/min", "speed", 35 * FOOT / 60),
        ("70.2 N/mm2", "stress", 70.2e6),
        ("70.2 MPa", "stress", 70.2e6),
        ("90 deg", "angle", math.pi / 2),
        ("90°", "angle", math.pi / 2),
        ("1.5 rad", "angle", 1.5),
        ("0.5 h", "time", 1800.0),
        ("15 kV", "voltage", 15000.0),
        ("0.35", "ratio", 0.35),
    ],
)
def test_a_number_and_a_unit(text: str, quantity: str, si: float) -> None:
    # A few roundings of a double on the way to SI.
    assert parse(text, quantity, "US") == pytest.approx(si, rel=1e-14)


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("5'-3 1/2\"", 63.5),
        ("5' 3 1/2\"", 63.5),
        ("5'3\"", 63.0),
        ("5'", 60.0),
        ('6"', 6.0),
        ("6″", 6.0),
        ("5′", 60.0),
        ('3/4"', 0.75),
        ("3/4 in", 0.75),
        ("1 1/2 in", 1.5),
        ("1-1/2 in", 1.5),
        ('1 1/2"', 1.5),
        ("5 ft 3 in", 63.0),
        ("-5'-3\"", -63.0),
        ("0'-6\"", 6.0),
    ],
)
@pytest.mark.parametrize("system", SYSTEMS)
def test_trade_forms_of_feet_and_inches(text: str, inches: float, system: str) -> None:
    assert parse(text, "length", system) == pytest.approx(inches * INCH, rel=1e-14)


def test_a_bare_number_takes_the_unit_of_the_file() -> None:
    assert parse(2, "length", "US") == pytest.approx(2 * FOOT, rel=1e-15)
    assert parse(2, "length", "SI") == 2.0
    assert parse(2, "diameter", "SI") == pytest.approx(0.002, rel=1e-15)
    assert parse(2, "radius", "US") == pytest.approx(2 * INCH, rel=1e-15)
    assert parse(2, "radius", "SI") == 2.0
    assert parse(2, "weight", "SI") == pytest.approx(2 * GRAVITY, rel=1e-15)


# --- what must not be read ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("1,5 kN", "comma"),  # left alone, pint reads 15 kN (ecosystem notes, section 8)
        ("1,500 lbf", "comma"),
        ("1.500,5 N", "comma"),
        ("12 #", "'#'"),  # pint drops the rest of the line
        ("nan kN", "not a number with a unit"),
        ("inf kN", "not a number with a unit"),
        ("-inf kN", "not a number with a unit"),
        ("5 k", "'k'"),  # pint: Boltzmann's constant
        ("10 lb", "is a mass"),  # not a force
        ("10 kg", "is a mass"),
        ("5 KN", "'KN'"),
        ("5 kn", "'kn'"),  # a knot to pint
        ("5 plf", "'plf'"),
        ("20 degC", "'degC'"),
        ("12", "has no unit"),
        ("", "is not a number with a unit"),
        ("kN", "is not a number with a unit"),
        ("5 kN 3", "'kN 3'"),
        ("5 3 kN", "is not"),
        ("5..3 kN", "is not"),
        ("5e kN", "not known"),
        ("0x10 N", "not known"),
        ("1_000 N", "not known"),
        ("5 kN/", "not known"),
        ("5 kN*", "not known"),
        ("5 kN + 3 kN", "not known"),
        ("5 kN; 3", "not known"),
        ("1e400 N", "not a finite number"),
        ("5 ft", "is a length"),
        ("1/0 kN", "divides by zero"),
        ("5'", "is a length"),
    ],
)
def test_a_doubtful_force_is_refused_and_an_example_given(text: str, why: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse(text, "force", "US")
    message = str(caught.value)
    assert why in message
    assert repr(text) in message
    assert "a force is required" in message and '"3500 lbf"' in message


@pytest.mark.parametrize(
    ("text", "fix"),
    [
        ("6'-14\"", "write 7'-2\""),
        ("6 ft 14 in", "write 7'-2\""),
        ("6'-12\"", "write 7'-0\""),
        ("6'-11 3/2\"", "write 7'-0.5\""),
        ("-6'-14\"", "write -7'-2\""),
        ("5.5'6\"", "write whole feet and inches, or 5.5 ft alone"),
        ("5.5 ft 6 in", "write whole feet and inches, or 5.5 ft alone"),
        ("5.0'-1/2\"", "write whole feet and inches, or 5.0 ft alone"),
    ],
)
def test_feet_and_inches_nobody_measures_are_doubtful(text: str, fix: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse(text, "length", "US")
    assert str(caught.value).endswith(f"; {fix}") and repr(text) in str(caught.value)


@pytest.mark.parametrize(
    ("text", "inches"),
    [("6'-11 15/16\"", 83.9375), ('14"', 14.0), ("5.5'", 66.0), ("5.5 ft", 66.0)],
)
def test_what_is_near_them_is_read(text: str, inches: float) -> None:
    assert parse(text, "length", "US") == pytest.approx(inches * INCH, rel=1e-14)


@pytest.mark.parametrize(
    "text", ["5'-3 1/0\"", "5'-", "'6\"", "5''", "5'-3", "1/2/3 in", "1 1 1/2 in", "6\" 5'", '"']
)
def test_broken_trade_forms_are_refused(text: str) -> None:
    with pytest.raises(UnitError):
        parse(text, "length", "US")


@pytest.mark.parametrize(
    ("text", "quantity", "why"),
    [
        ("5 N", "length", "is a force"),
        ("5 m2", "length", "is an area"),
        ("5 m", "angle", "is a length"),
        ("5 deg", "length", "is an angle or a plain number"),
        ("5 kg/m", "force", "is a mass per length"),
        ("5 kg/m", "sidewall", "sidewall"),
        ("5 J", "volume", "is an energy"),
        ("5 s", "speed", "is a time"),
        ("5 V", "force", "is a voltage"),
        ("0.3 m", "ratio", "has a unit"),
    ],
)
def test_the_wrong_kind_of_quantity_is_named(text: str, quantity: str, why: str) -> None:
    if quantity == "sidewall":  # mass per length stands for weight per length, everywhere in N/m
        assert parse(text, quantity, "SI") == pytest.approx(5 * GRAVITY)
        return
    with pytest.raises(UnitError, match=why):
        parse(text, quantity, "SI")


@pytest.mark.parametrize("value", [True, None, [1], math.nan, math.inf, 1j])
def test_what_is_no_number_at_all(value: object) -> None:
    with pytest.raises(UnitError, match="number"):
        parse(value, "length", "SI")  # type: ignore[arg-type]


def test_only_cable_weight_turns_mass_into_force() -> None:
    assert parse("1 kg/m", "weight", "SI") == GRAVITY
    with pytest.raises(UnitError, match="is a mass"):
        parse("1 kg", "weight", "SI")


# --- every quantity -----------------------------------------------------------------------------


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_the_example_of_every_quantity_can_be_read(quantity: str) -> None:
    kind = QUANTITIES[quantity]
    assert kind.name == quantity
    for system in SYSTEMS:
        assert parse(kind.example, quantity, system) > 0


@pytest.mark.parametrize("quantity", QUANTITIES)
@pytest.mark.parametrize("system", SYSTEMS)
@settings(derandomize=True, max_examples=40, deadline=None, database=None)
@given(value=st.floats(-1e6, 1e6))
def test_what_is_shown_can_be_read_again(quantity: str, system: str, value: float) -> None:
    if quantity == "temperature":
        value = abs(value)  # kelvin: there is nothing below zero
    text = show(value, quantity, system, decimals=12)
    again = (
        parse(text.replace(",", "").replace("·", "*"), quantity, system)
        if _has_unit(text)
        else float(text.rstrip("%").replace(",", "")) * (0.01 if "percent" in quantity else 1.0)
    )
    # Twelve decimals of the unit shown: half of the last.
    shown = convert(value, quantity, system)
    unit = abs(value / shown) if shown and quantity != "temperature" else 1
    assert again == pytest.approx(value, rel=1e-12, abs=1e-12 * max(unit, 1e-12))


def _has_unit(text: str) -> bool:
    return not text[-1].isdecimal() and not text.endswith("%")


@pytest.mark.parametrize("quantity", QUANTITIES)
@pytest.mark.parametrize("system", SYSTEMS)
def test_the_printed_unit_is_one_that_can_be_typed(quantity: str, system: str) -> None:
    label = unit_label(quantity, system)
    if label in ("", "%"):
        return
    # The shown unit is the one convert gives numbers in.
    assert convert(parse(f"1 {label}", quantity, system), quantity, system) == pytest.approx(
        1.0, rel=2e-13
    )


# The scales meet at 0 °C = 273.15 K = 32 °F and at -40 (SI brochure; definitions of the scales).
@pytest.mark.parametrize(
    ("text", "kelvin"),
    [("20 degC", 293.15), ("-5 °C", 268.15), ("−40 °F", 233.15), ("32 degF", 273.15), ("0 K", 0.0)],
)
def test_temperatures_have_a_zero_of_their_own(text: str, kelvin: float) -> None:
    assert parse(text, "temperature", "US") == pytest.approx(kelvin, abs=1e-9)


def test_a_bare_temperature_is_read_in_the_units_of_the_file() -> None:
    assert parse(14, "temperature", "US") == pytest.approx(263.15, abs=1e-9)
    assert parse(-10, "temperature", "SI") == pytest.approx(263.15, abs=1e-9)
    assert show(263.15, "temperature", "US") == "14.0 °F"
    assert show(263.15, "temperature", "SI") == "-10.0 °C"


@pytest.mark.parametrize("text", ["20", "20 C", "20 ft", "-274 °C", "20 degrees", "5 °"])
def test_a_doubtful_temperature_is_refused(text: str) -> None:
    with pytest.raises(UnitError):
        parse(text, "temperature", "SI")


# --- SI to text ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "quantity", "us", "si"),
    [
        (15568.8, "force", "3,500 lbf", "15.57 kN"),
        (48 * INCH, "radius", "48 in", "1.219 m"),
        (1.36 * INCH, "diameter", "1.36 in", "34.5 mm"),
        (math.pi / 2, "angle", "90.0°", "90.0°"),
        (0.403, "percent", "40%", "40%"),
        (7297.0, "sidewall", "500 lbf/ft", "7,297 N/m"),
        (28.9, "weight", "1.98 lb/ft", "2.95 kg/m"),
        (-1e-9, "force", "0 lbf", "0.00 kN"),
        (math.inf, "force", "none", "none"),
    ],
)
def test_numbers_as_they_are_printed(value: float, quantity: str, us: str, si: str) -> None:
    assert show(value, quantity, "US") == us
    assert show(value, quantity, "SI") == si


def test_a_phrase_is_rendered_in_either_system() -> None:
    phrase = say("needs {} and has {}", (1.2192, "radius"), (4448.2216, "force"))
    assert render(phrase, "US") == "needs 48 in and has 1,000 lbf"
    assert render(phrase, "SI") == "needs 1.219 m and has 4.45 kN"


def test_endless_figures_stay_short() -> None:
    """What no pull comes near must not run over what stands beside it."""
    assert show(4.448e12, "force", "US") == "1e+12 lbf"
    assert show(4.448e8, "force", "US") == "99,995,018 lbf"


@pytest.mark.parametrize(
    ("newtons", "system", "text"),
    [
        (15.57e3, "SI", "15.57 kN"),
        (999.99e3, "SI", "999.99 kN"),
        (1_234.56e3, "SI", "1,234.6 kN"),
        (108_806.06e3, "SI", "108,806 kN"),
        (-108_806.06e3, "SI", "-108,806 kN"),
        (108_806.06e3, "US", "24,460,575 lbf"),
    ],
)
def test_a_load_is_shown_with_no_more_decimals_than_anyone_knows(
    newtons: float, system: str, text: str
) -> None:
    assert show(newtons, "force", system) == text


def test_a_load_marked_to_be_rounded_up_or_down_is_so_to_the_digits_shown() -> None:
    assert show_marked(12_345_100.0, "force+", "SI") == "12,346 kN"
    assert show_marked(12_345_900.0, "force-", "SI") == "12,345 kN"


# --- as a file holds it -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("si", "quantity", "system", "like", "text"),
    [
        (77.2 * INCH, "radius", "US", 48, "77.2"),
        (77.2 * INCH, "radius", "US", "48 in", '"77.2 in"'),
        (77.2 * INCH, "radius", "US", "4'-0\"", '"77.2 in"'),
        (1.2, "radius", "US", "1500 mm", '"1200 mm"'),
        (1.2, "radius", "SI", None, "1.2"),
        (12000 * POUND_FORCE, "force", "US", 7500, "12000"),
        (20e3, "force", "SI", "15 kN", '"20 kN"'),
        (1e6, "force", "SI", None, "1000000"),
        (0.17, "ratio", "US", "0.25", "0.17"),
        (-6 * FOOT, "length", "US", -5, "-6"),
        (1e-14, "length", "SI", 0, "0"),
        (math.pi / 2, "angle", "US", None, "90"),
        (1 / 3, "length", "SI", None, "0.33333333333"),
    ],
)
def test_written_in_the_fewest_digits_and_the_unit_that_was_there(
    si: float, quantity: str, system: str, like: object, text: str
) -> None:
    assert written(si, quantity, system, like) == text


@given(
    st.floats(1e-6, 1e7),
    st.sampled_from(["length", "radius", "diameter", "force", "mass", "ratio"]),
    st.sampled_from(SYSTEMS),
)
def test_written_reads_back(si: float, quantity: str, system: str) -> None:
    text = written(si, quantity, system)
    assert "e" not in text
    assert parse(float(text), quantity, system) == pytest.approx(si, rel=1e-9)


# --- the tape ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("inches", "said"),
    [
        (40.3125, "3'-4 5/16\""), (0.0, "0'-0\""), (11.97, "1'-0\""), (11.96, "0'-11 15/16\""),
        (12.5, "1'-0 1/2\""), (0.25, "0'-0 1/4\""), (0.03124, "0'-0\""), (0.03126, "0'-0 1/16\""),
        (-4.75, "-0'-4 3/4\""), (-0.01, "0'-0\""), (14647.8, "1220'-7 13/16\""),
    ],
)  # fmt: skip
def test_a_length_on_a_tape(inches: float, said: str) -> None:
    assert tape(inches * 0.0254, "US") == said


@pytest.mark.parametrize(
    ("meters", "toward", "us", "si"),
    [
        (0.0254, "+", "0'-1\"", "26 mm"), (0.0254, "-", "0'-1\"", "25 mm"),
        (0.0255, "+", "0'-1 1/16\"", "26 mm"), (0.0269, "-", "0'-1\"", "26 mm"),
        (math.inf, "", "none", "none"), (math.nan, "", "-", "-"),
        (12.3456, "", "40'-6 1/16\"", "12,346 mm"),
    ],
)  # fmt: skip
def test_a_tape_rounded_up_and_down(meters: float, toward: str, us: str, si: str) -> None:
    assert (tape(meters, "US", toward=toward), tape(meters, "SI", toward=toward)) == (us, si)


@given(st.floats(0, 5000))
def test_a_tape_reads_back_within_half_a_mark(meters: float) -> None:
    assert abs(parse(tape(meters, "US"), "length", "US") - meters) <= 0.0254 / 32 * (1 + 1e-9)
    assert abs(parse(tape(meters, "SI").replace(",", ""), "length", "SI") - meters) <= 0.0005001
