"""The simulated shop: sums turn by turn against closed forms, spreads as told, the same seed the same shop."""

from __future__ import annotations

import math
import statistics

import pytest

from winder.coil.steiner import turns_area_m2, wound_length_m
from winder.simulator.shop import Bobbin, Shop, ShopCoil, Spread, Winds, warmed

D10 = Bobbin(math.pi * 0.010, math.pi * 0.010**2 / 4, 0.020)
BARE_M, OVERALL_M = 63.5e-6, 71.1e-6


def shop(seed: int, **spread) -> Shop:
    return Shop(seed, BARE_M, OVERALL_M, 0.815, Spread(**spread))


def test_layers_summed_are_near_steiners_formulas():
    """Whole layers: within what the layer half done makes, 0.1 %."""
    coil = ShopCoil(D10, 4.789e-9, 71.1e-6, 5.44, 0.0)
    g = 4.789e-9 / 0.020
    assert coil.wire_m(8_000) == pytest.approx(wound_length_m(D10.perimeter_m, g, 8_000), rel=1e-3)
    area = turns_area_m2(D10.perimeter_m, D10.core_m2, g, 8_000)
    assert coil.turns_area_m2(8_000) == pytest.approx(area, rel=2e-3)


def test_stretched_wire_is_longer_and_thinner():
    """Same copper, so ohms go by the square of the length."""
    plain = ShopCoil(D10, 4.789e-9, 71.1e-6, 5.44, 0.0)
    stretched = ShopCoil(D10, 4.789e-9, 71.1e-6, 5.44, 0.01)
    assert stretched.from_spool_m(5_000) == pytest.approx(plain.from_spool_m(5_000) / 1.01)
    assert stretched.ohm_20c(5_000) == pytest.approx(plain.ohm_20c(5_000) * 1.01)


def test_turns_by_ohms_and_by_wire():
    coil = shop(3).coil(D10)
    assert coil.turns_of_ohm(coil.ohm_20c(4_321)) == 4_321
    assert coil.turns_in_wire(coil.from_spool_m(4_321) + 1e-9, 6_000) == 4_321
    path = [3_000, 2_950, 5_000]
    taken = coil.from_spool_m(5_000) + coil.from_spool_m(3_000) - coil.from_spool_m(2_950)
    assert coil.taken_m(path) == pytest.approx(taken)


def test_a_seed_is_a_shop():
    assert shop(5).wire == shop(5).wire != shop(6).wire
    assert shop(5).coil(D10) == shop(5).coil(D10)


def test_spreads_are_as_told():
    """600 benches: ohms per metre within -9 to +10 % and packing within 15 % in 95 of 100, by counting."""
    wires = [shop(seed).wire for seed in range(600)]
    nominal = 1 / 58e6 / (math.pi / 4 * BARE_M**2)
    inside = sum(0.91 / 1.015 <= wire.ohm_per_m / nominal <= 1.10 for wire in wires)
    assert 0.92 < inside / 600 < 0.995
    first = [shop(seed).coil(D10) for seed in range(600)]
    sections = [coil.section_m2 / (OVERALL_M**2 / 0.815) for coil in first]
    assert statistics.pstdev(map(math.log, sections)) == pytest.approx(0.151 / 1.96, rel=0.1)
    pairs = []
    for seed in range(600):
        bench = shop(seed)
        pairs.append(math.log(bench.coil(D10).section_m2 / bench.coil(D10).section_m2))
    assert statistics.pstdev(pairs) == pytest.approx(0.03 / 1.96, rel=0.1)


def test_what_happens_besides():
    winds = [Winds(seed) for seed in range(300)]
    paths = [each.path(5_000) for each in winds]
    broken = sum(doubt > 0 for _, _, doubt, _ in paths)
    assert 0.15 < broken / 300 < 0.35
    for true, told, doubt, waste in paths:
        assert len(true) == len(told) and waste >= 1
        assert all(abs(a - b) <= max(doubt, 0) for a, b in zip(true, told, strict=True))
    assert warmed(1000.0, 1, 0.3) != 1000.0
    assert abs(warmed(1000.0, 1, 0.3) / 1000 - 1) < 0.004
