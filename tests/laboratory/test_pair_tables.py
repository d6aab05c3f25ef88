"""The page of pairs shows what the program figures, block by block, and the iron it was computed with."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from winder.laboratory.pair_tables import tables
from winder.pair.backwards import Heard, explain
from winder.pair.mounting import IRON_FACTS, Iron

PAGE = (Path(__file__).parents[2] / "docs" / "pairs.md").read_text()
IRON_ROWS = {
    "rod magnet through both": Iron.MAGNETS,
    "steel through both": Iron.STEEL,
    "rod magnet in the near coil only": Iron.MAGNET_IN_ONE,
    "steel in the near coil only": Iron.STEEL_IN_ONE,
    "steel through both, plate of 2 mm under the far coil": Iron.STEEL_PLATE,
    "steel in the near coil, plate filling the gap": Iron.STEEL_IN_ONE_PLATE,
}


@pytest.mark.parametrize("block", list(tables()), ids=lambda block: block.split("|")[1].strip())
def test_every_table_of_the_page_is_what_is_printed(block):
    assert block in PAGE, "write them again: python -m winder.laboratory.pair_tables"


@pytest.mark.parametrize(("name", "iron"), IRON_ROWS.items(), ids=str)
def test_the_iron_of_the_page_is_the_programs(name, iron):
    """Finite differences at 0.25 mm, printed on the page, against the factors in use: 3 %."""
    (row,) = re.findall(rf"^\| {re.escape(name)} \| ([0-9.]+) / ([0-9.]+) \|", PAGE, re.MULTILINE)
    assert float(row[0]) == pytest.approx(IRON_FACTS[iron].near, rel=0.03)
    assert float(row[1]) == pytest.approx(IRON_FACTS[iron].far, rel=0.03)


def test_the_page_tells_the_cures_that_the_program_tells():
    for heard, row in ((Heard.QUIET_THIN, "quiet but thin"), (Heard.HUMS_THIN, "hums and is thin")):
        (line,) = [each for each in PAGE.splitlines() if each.startswith(f"| {row} |")]
        cure = explain(heard, stacked=False).cure.value.replace(" round", "")
        assert cure.split(" of ")[0] in line
