"""The page of faults says what the campaigns measured, to the letter, and of how many rows."""

from __future__ import annotations

import dataclasses

import pytest

from tests.campaigns import chip_faults, rp2040_faults
from tests.campaigns.chip_faults_run import Row
from tests.campaigns.fault_page import PAGE, Kept, known, page_text

CASES = {"chip_faults": chip_faults.CASES, "rp2040_faults": rp2040_faults.CASES}


def test_its_tables_are_written_from_the_figures():
    assert PAGE.read_text() == page_text(PAGE.read_text(), known())


def test_the_figures_are_of_the_rows_there_are_and_have_a_place_on_it():
    for name, kept in known().items():
        faults = [case.fault for case in CASES[name]]
        assert kept.of == len(faults)
        assert all(0 < one.rows <= faults.count(one.fault) for one in kept.sums)
        assert f"<!-- measured: {name} -->" in PAGE.read_text()


def test_no_two_rows_have_the_same_name():
    assert len({case.name for case in chip_faults.CASES}) == len(chip_faults.CASES)


def test_a_broken_off_run_goes_on_in_its_file(tmp_path, monkeypatch):
    run = []

    def row_of(index, scene):
        case = chip_faults.CASES[index]
        run.append(case.name)
        return Row(*case.name, False, "NONE", None, 1.0, 0, 1, "exact", 1, 1, 1, True, "")  # fmt: skip

    monkeypatch.setattr(chip_faults, "_run_one", row_of)
    words = ["--into", str(tmp_path / "rows"), "--only", "wire lost"]
    assert chip_faults.main([*words, "--every", "4"]) == 0
    first = list(run)
    assert chip_faults.main([*words, "--jobs", "0"]) == 0 and run == first
    assert chip_faults.main(words) == 0
    assert len(run) == len(set(run)) == 9 and run[: len(first)] == first
    assert chip_faults.main(words) == 0 and len(run) == 9


def test_no_job_without_a_file_is_told():
    with pytest.raises(SystemExit) as left:
        chip_faults.main(["--jobs", "0"])
    assert left.value.code == 2


def test_a_table_that_was_changed_by_hand_is_seen():
    figures = known()
    name, kept = next(iter(figures.items()))
    worse = dataclasses.replace(kept.sums[0], held=kept.sums[0].held - 1)
    changed = figures | {name: Kept(kept.of, [worse, *kept.sums[1:]])}
    assert page_text(PAGE.read_text(), changed) != PAGE.read_text()
