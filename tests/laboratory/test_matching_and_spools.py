"""The simulated shop's tables: what they promise, on few seeds; the page has the whole run.

Bounds are those that the page's own figures leave for so few: exact binomial limits (Clopper and Pearson).
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from winder.laboratory import matching, spools
from winder.laboratory.coverage import binomial_interval
from winder.laboratory.matching import (
    ADVICE,
    AGAIN,
    COUNT,
    EQUAL,
    METERS,
    PACKINGS,
    TRIALS,
    coil_of_trial,
    make_pair,
    shares,
)

PAGE = Path(__file__).parents[2] / "docs" / "matching.md"
FEW = 60


@pytest.mark.parametrize("trial", TRIALS, ids=lambda trial: trial.name)
@pytest.mark.parametrize("meter", METERS.values(), ids=METERS)
@pytest.mark.parametrize("difference", PACKINGS.values(), ids=PACKINGS)
def test_our_advice_is_no_worse_than_counting_and_in_ohms_than_proportion(trial, meter, difference):
    coil = coil_of_trial(trial)
    pairs = [make_pair(trial, coil, seed, meter, difference) for seed in range(9001, 9001 + FEW)]
    area, ohm = shares(pairs, ADVICE)
    count_area, count_ohm = shares(pairs, COUNT)
    assert area >= count_area
    assert ohm >= count_ohm
    assert ohm >= shares(pairs, AGAIN)[1]


def test_a_seed_is_a_pair():
    trial, meter = TRIALS[0], METERS["good meter, 1 K"]
    coil = coil_of_trial(trial)
    one, again = (make_pair(trial, coil, 7, meter, 0.03) for _ in range(2))
    assert one == again != make_pair(trial, coil, 8, meter, 0.03)


def page_rows(page: str, title: str) -> list[list[str]]:
    block = page[page.index(title) :].split("\n\n")[0]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in block.splitlines()]


def percent(cell: str) -> list[float]:
    return [float(each) for each in re.findall(r"[0-9.]+", cell)]


def test_the_page_has_the_whole_run_and_it_keeps_the_promise():
    page = PAGE.read_text()
    assert f"{matching.PAIRS} pairs of each bobbin, seeds from {matching.FIRST_SEED}" in page
    for packing in PACKINGS:
        for meter in METERS:
            _, _, *rows = page_rows(page, f"| {meter}; {packing} |")
            told = {row[0]: [percent(cell) for cell in row[1:]] for row in rows}
            assert list(told) == [COUNT, AGAIN, EQUAL, ADVICE]
            for ours, counted, again in zip(told[ADVICE], told[COUNT], told[AGAIN], strict=True):
                assert ours[0] >= counted[0] and ours[1] >= counted[1] and ours[1] >= again[1]


def test_the_pages_figures_are_those_of_the_command():
    """A block run again on fewer seeds lies within the exact binomial limits of the page's shares."""
    page, trial = PAGE.read_text(), TRIALS[1]
    coil = coil_of_trial(trial)
    (packing, difference), (name, meter) = next(iter(PACKINGS.items())), next(iter(METERS.items()))
    _, _, *rows = page_rows(page, f"| {name}; {packing} |")
    seeds = range(matching.FIRST_SEED, matching.FIRST_SEED + FEW)
    pairs = [make_pair(trial, coil, seed, meter, difference) for seed in seeds]
    for row in rows:
        for share, cell in zip(shares(pairs, row[0]), percent(row[2]), strict=True):
            low, high = binomial_interval(round(share * FEW), FEW)
            assert low - 1e-9 <= cell / 100 <= high + 1e-9


@pytest.mark.parametrize("way", spools.WAYS, ids=lambda way: way.name)
def test_what_is_left_lies_in_its_band(way):
    coil = coil_of_trial(TRIALS[1])
    followed = [spools.follow(coil, seed, way) for seed in range(7001, 7021)]
    inside = sum(each.inside for each in followed)
    assert binomial_interval(inside, len(followed))[1] >= 0.95
    for each in followed:
        assert each.now.left_m.low < each.now.left_m.nominal < each.now.left_m.high
        assert 0 < each.true_m < each.held_m


def test_by_proportion_every_bobbin_overshoots_as_the_page_says():
    """The outer turns are the longest: 39.1, 11.8 and 5.4 % were figured apart for three other bobbins."""
    difference, meter = list(PACKINGS.values())[-1], list(METERS.values())[-1]
    (line,) = [each for each in PAGE.read_text().splitlines() if each.startswith(f"{AGAIN}: ohms")]
    told = [float(each) for each in re.findall(r"([+-][0-9.]+) %", line)]
    seeds = range(matching.FIRST_SEED, matching.FIRST_SEED + FEW)
    for trial, share in zip(TRIALS, told, strict=True):
        coil = coil_of_trial(trial)
        pairs = [make_pair(trial, coil, seed, meter, difference) for seed in seeds]
        assert 100 * matching.overshoot(pairs) == pytest.approx(share, rel=0.12)


def test_the_page_has_the_spools_and_they_keep_the_promise():
    page = PAGE.read_text()
    assert (
        f"{spools.SPOOLS} spools, {spools.COILS} winds each, seeds from {spools.FIRST_SEED}" in page
    )
    _, _, *rows = page_rows(page, "| known of the spool |")
    assert [row[0] for row in rows] == [way.name for way in spools.WAYS]
    for row, way in zip(rows, spools.WAYS, strict=True):
        assert percent(row[2])[1] >= 95.0
        if way.weighed or (way.read and way.length_share == 0.002):
            assert percent(row[4])[0] >= 95.0
