"""Quantities are read strictly, printed back exactly, and refused with what to write instead."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from winder.files import dimensions as kinds
from winder.files import quantities as q


def reader(kind):
    return lambda text: q.read_quantity(text, kind)


read_length, read_resistance = reader(kinds.LENGTH), reader(kinds.RESISTANCE)
read_speed, read_acceleration = reader(kinds.SPEED), reader(kinds.ACCELERATION)
read_time = reader(kinds.TIME)

READ = [
    ("9.5 mm", read_length, 0.0095),
    ("1 m", read_length, 1.0),
    ("2.5 cm", read_length, 0.025),
    ("63 um", read_length, 63e-6),
    ("1 in", read_length, 0.0254),
    ("2 ft", read_length, 0.6096),  # 12 in
    ("2.5 mil", read_length, 63.5e-6),
    ("0 mm", read_length, 0.0),
    ("-3 mm", read_length, -0.003),  # the sign is read; whether it makes sense is the field's
    ("350 ohm", read_resistance, 350.0),
    ("1.2 kohm", read_resistance, 1200.0),
    ("900 rpm", read_speed, 900.0),
    ("600 rpm/s", read_acceleration, 600.0),
    ("90 s", read_time, 90.0),
    ("1.5 min", read_time, 90.0),
]


@pytest.mark.parametrize(("text", "read", "value"), READ)
def test_a_number_a_space_and_a_unit_is_read_to_the_last_digit(text, read, value):
    assert read(text) == value


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        # International yard and pound agreement of 1959; standard gravity of the CGPM, 1901.
        ("1 lb", kinds.MASS, 0.45359237),
        ("16 oz", kinds.MASS, 0.45359237),
        ("100 gf", kinds.FORCE, 0.980665),
        ("14 cN", kinds.FORCE, 0.14),
        # Fixed points of the scale: 32 F is 0 C, 212 F is 100 C, and -40 is the same on both.
        ("32 F", kinds.TEMPERATURE, 0.0),
        ("212 F", kinds.TEMPERATURE, 100.0),
        ("-40 F", kinds.TEMPERATURE, -40.0),
        ("72 F", kinds.TEMPERATURE, 200 / 9),
        ("0.8 %", kinds.SHARE, 0.008),
    ],
)
def test_what_a_workshop_in_inches_writes_is_read_into_the_same_units(text, kind, value):
    assert q.read_quantity(text, kind) == value
    assert q.show_quantity(value, kind).split()[1] in ("g", "cN", "C", "%")  # shown in our units


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("12.5", 12.5),
        ("0", 0.0),
        ("-0.5", -0.5),
        ("007", 7.0),
        ("123456789012.25", 123456789012.25),
    ],
)
def test_a_bare_number_is_digits_and_at_most_one_point(text, value):
    assert q.read_number(text) == value


NOT_NUMBERS = [
    ("1_000", "write 1000"),
    ("3 106", "write 3106"),
    ("+5", "write 5"),
    ("1'000", "write 1000"),
    ("1e3", "without"),
    ("1E+3", "without"),
    ("9,5", "9.5"),
    ("1,200", "1200"),
    (".5", "0.5"),
    ("5.", "0.5"),
    ("1.2.3", "12.5"),
    ("\u0661", "12.5"),
    ("\u0661\u0662.5", "12.5"),
    ("\uff11", "12.5"),
    ("nan", "12.5"),
    ("inf", "12.5"),
    ("-", "12.5"),
    ("", "12.5"),
    (" 7", "write 7"),
    ("7\n", "write 7"),
    ("0x10", "12.5"),
    ("12.5 mm", "12.5"),
    ("9" * 400, "12.5"),
]


@pytest.mark.parametrize(("text", "remedy"), NOT_NUMBERS)
@pytest.mark.parametrize("read", [q.read_number, q.read_whole])
def test_whatever_else_looks_like_a_number_is_refused_with_what_to_write(text, remedy, read):
    with pytest.raises(q.QuantityError) as caught:
        read(text)
    assert remedy in caught.value.remedy
    assert str(caught.value).isprintable() and len(str(caught.value)) < 200


def test_a_fraction_is_no_whole_number():
    assert q.read_whole("-12") == -12
    with pytest.raises(q.QuantityError) as caught:
        q.read_whole("12.0")
    assert caught.value.remedy == "write it like 12"


@given(st.text(alphabet="0123456789.-+eE_ ,\u0661x", max_size=12))
def test_no_text_is_read_as_another_number_than_it_says(text):
    try:
        number = q.read_number(text)
    except q.QuantityError as wrong:
        assert wrong.what and wrong.remedy
    else:
        assert set(text) <= set("-.0123456789") and number == float(text)


REFUSED = [
    ("9,5 mm", "9.5 mm"),
    ("9,5", "9.5 mm"),
    ("1,200 mm", '"1200 mm"'),  # the comma may have parted the thousands
    ("1.234,5 mm", "9.5 mm"),
    ("9.5mm", '"9.5 mm"'),
    ("9.5  mm", '"9.5 mm"'),
    (" 9.5 mm", '"9.5 mm"'),
    ("9.5 mm ", '"9.5 mm"'),
    ("9.5\tmm", '"9.5 mm"'),
    ("9.5 mm\n", '"9.5 mm"'),
    ("+9.5 mm", '"9.5 mm"'),
    ("9.5", "if you mean mm"),
    ("9.5 MM", '"9.5 mm"'),
    ("9.5 Mm", '"9.5 mm"'),
    ("63 \u00b5m", '"63 um"'),
    ("63 \u03bcm", '"63 um"'),
    ("2 inches", '"2 in"'),
    ('2"', '"2 in"'),
    ("3 furlong", "mm, m, cm, um, in, mil"),
    ("3 ohm", "mm, m, cm, um, in, mil"),
    ("42 AWG", "9.5 mm"),
    ("1e3 mm", "9.5 mm"),
    (".5 mm", "9.5 mm"),
    ("5. mm", "9.5 mm"),
    ("nan mm", "9.5 mm"),
    ("inf mm", "9.5 mm"),
    ("nan", "9.5 mm"),
    ("mm", "9.5 mm"),
    ("", "9.5 mm"),
    ("9.5 mm mm", "9.5 mm"),
    ("1_000 mm", "9.5 mm"),
    ("\u0663 mm", "9.5 mm"),  # a digit, but not one of ours
    ("9" * 400 + " mm", "9.5 mm"),  # would be infinite
]


@pytest.mark.parametrize(("text", "remedy"), REFUSED)
def test_anything_else_is_refused_with_what_to_write(text, remedy):
    with pytest.raises(q.QuantityError) as caught:
        read_length(text)
    assert remedy in caught.value.remedy


def test_a_comma_of_three_digits_offers_both_readings():
    with pytest.raises(q.QuantityError) as caught:
        read_resistance("1,200 ohm")
    assert '"1.200 ohm"' in caught.value.remedy
    assert '"1200 ohm"' in caught.value.remedy


@pytest.mark.parametrize("text", ["1.2 k\u03a9", "1.2 k\u2126", "1.2 K", "1.2 kOhm"])
def test_other_ways_to_write_kilohms_name_ours(text):
    with pytest.raises(q.QuantityError) as caught:
        read_resistance(text)
    assert caught.value.remedy == 'write "1.2 kohm"'


def test_a_message_shows_no_control_characters_and_no_endless_text():
    with pytest.raises(q.QuantityError) as caught:
        read_length("\x1b[31m" + "9" * 1000)
    assert str(caught.value).isprintable()
    assert len(str(caught.value)) < 200


def test_a_gauge_is_read_by_name():
    assert q.read_gauge("42 AWG") == (42, "AWG")
    assert q.read_gauge("46 SWG") == (46, "SWG")


@pytest.mark.parametrize("text", ["46 swg", "SWG 46", "46SWG"])
def test_no_hint_leads_to_another_wire(text):
    with pytest.raises(q.QuantityError) as caught:
        q.read_gauge(text)
    assert "46 SWG" in caught.value.remedy and "AWG" not in caught.value.remedy


def test_a_gauge_without_its_system_is_asked_for():
    with pytest.raises(q.QuantityError) as caught:
        q.read_gauge("46")
    assert "46 AWG" in caught.value.remedy and "46 SWG" in caught.value.remedy


@pytest.mark.parametrize(
    ("text", "remedy"),
    [
        ("42", '"42 AWG"'),
        ("AWG 42", '"42 AWG"'),
        ("42AWG", '"42 AWG"'),
        ("42 awg", '"42 AWG"'),
        ("#42", '"42 AWG"'),
        ("42.5 AWG", "whole number"),
        ("0.063 mm", '"42 AWG"'),
        ("-2 AWG", '"42 AWG"'),
        ("", '"42 AWG"'),
    ],
)
def test_other_gauges_are_refused_with_what_to_write(text, remedy):
    with pytest.raises(q.QuantityError) as caught:
        q.read_gauge(text)
    assert remedy in caught.value.remedy


@pytest.mark.parametrize(
    ("shown", "text"),
    [
        (q.show_length(0.0085), "8.5 mm"),
        (q.show_length(63e-6), "0.063 mm"),
        (q.show_length(2e-6), "2 um"),
        (q.show_length(335.0), "335 m"),
        (q.show_length(0.0), "0 mm"),
        (q.show_length(-0.003), "-3 mm"),
        (q.show_length(0.00326642, 2), "3.3 mm"),
        (q.show_length(123456.0, 2), "120000 m"),
        (q.show_length(0.00999999, 2), "10 mm"),
        (q.show_resistance(1200.0), "1.2 kohm"),
        (q.show_resistance(350.0), "350 ohm"),
        (q.show_resistance(1710.2528, 3), "1.71 kohm"),
        (q.show_resistance(999.99, 3), "1 kohm"),  # rounding moves it over the border
        (q.show_speed(900.0), "900 rpm"),
        (q.show_acceleration(600.0), "600 rpm/s"),
        (q.show_time(90.0), "90 s"),
    ],
)
def test_quantities_are_shown_as_people_write_them(shown, text):
    assert shown == text


ANY = st.floats(1e-9, 1e9) | st.floats(-1e9, -1e-9) | st.just(0.0)
DIMENSIONS = [kinds.LENGTH, kinds.RESISTANCE, kinds.SPEED, kinds.ACCELERATION, kinds.TIME, kinds.AREA, kinds.MASS, kinds.TEMPERATURE,
              kinds.RESISTANCE_PER_LENGTH, kinds.INDUCTANCE, kinds.CAPACITANCE, kinds.FLUX_DENSITY]  # fmt: skip


# A value of ordinary size in the first unit of its dimension.
VALUED = st.sampled_from(DIMENSIONS).flatmap(
    lambda d: st.tuples(ANY.map(lambda v: v * float(next(iter(d.units.values())))), st.just(d))
)


@given(VALUED)
def test_what_is_shown_reads_back_as_the_same_float(valued):
    value, dimension = valued
    assert q.read_quantity(q.show_quantity(value, dimension), dimension) == value


@given(VALUED, st.integers(1, 6))
def test_rounding_for_people_stays_within_half_of_the_last_figure(valued, figures):
    value, dimension = valued
    back = q.read_quantity(q.show_quantity(value, dimension, figures), dimension)
    assert back == pytest.approx(value, rel=0.5001 * 10 ** (1 - figures))


@given(st.text(max_size=30), st.sampled_from(DIMENSIONS))
def test_any_text_is_read_or_refused_with_a_remedy(text, dimension):
    try:
        value = q.read_quantity(text, dimension)
    except q.QuantityError as error:
        assert error.what and error.remedy
    else:
        number, unit = text.split(" ")
        assert value == pytest.approx(float(number) * float(dimension.units[unit]))


NEAR_QUANTITY = st.from_regex(r"\A ?[-+]?[0-9]{1,4}([.,][0-9]{1,4})? {0,2}[a-zA-Z\u03a9/]{0,4} ?\Z")


@given(NEAR_QUANTITY, st.sampled_from(DIMENSIONS))
def test_a_remedy_that_quotes_a_quantity_quotes_a_good_one(text, dimension):
    try:
        q.read_quantity(text, dimension)
    except q.QuantityError as error:
        quoted = error.remedy.split('"')[1::2]
        assert quoted
        for suggestion in quoted:
            q.read_quantity(suggestion, dimension)


# "AWG diameter, textbook" in mil: Lessons In Electric Circuits (T. Kuphaldt, open textbook), Reference
# ch. 3, "Conductor and insulator tables"; four figures at most.
KUPHALDT_MIL = {
    30: 10.03,
    32: 7.950,
    34: 6.305,
    36: 5.000,
    38: 3.965,
    40: 3.145,
    42: 2.494,
    44: 1.978,
}


@pytest.mark.parametrize(("gauge", "mil"), KUPHALDT_MIL.items())
def test_gauge_diameters_by_definition_agree_with_a_textbook(gauge, mil):
    assert q.awg_bare_m(gauge) / kinds.MIL_M == pytest.approx(mil, rel=6e-4)


def test_constants_are_those_of_their_sources():
    # IEC 60028:1925 as told by TN Lab, "the international standard of resistance for copper":
    # 0.017241 ohm mm2/m at 20 C, density 8.89 g/cm3.
    by_area = q.COPPER_RESISTIVITY_20C_OHM_M * 1e6
    assert by_area == pytest.approx(0.017241, abs=5e-7)
    assert q.COPPER_DENSITY_KG_M3 == 8890
    # The same standard by mass: 0.15328 ohm g/m2 (encyclopedia article on the standard).
    by_mass = q.COPPER_RESISTIVITY_20C_OHM_M * q.COPPER_DENSITY_KG_M3 * 1e3
    assert by_mass == pytest.approx(0.15328, abs=1.1e-5)
    # alpha20 = 1/254.5 as the zero-resistance temperature of 234.5 C has it.
    assert pytest.approx(1 / (234.5 + 20), abs=5e-6) == q.COPPER_ALPHA20_PER_K
    assert kinds.INCH_M == pytest.approx(1000 * kinds.MIL_M) == 0.0254
    # CODATA 2018: 1.25663706212e-6 N/A2 (from memory).
    assert pytest.approx(1.25663706212e-6, rel=1e-9) == q.MU0_H_M
