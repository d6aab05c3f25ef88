"""Every planted mistake still has its line: a mistake that cannot be planted is noticed by nobody.

``test_mutants.py`` plants them, one by one, and takes long; that its lines are there is looked at every time.
"""

from __future__ import annotations

import pytest
from planted import MUTANTS
from source_tree import ROOT


@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda mutant: mutant.what)
def test_its_line_is_there_once_and_its_tests_are_too(mutant):
    assert (ROOT / mutant.file).read_text().count(mutant.before) == 1
    assert mutant.after != mutant.before
    for test in mutant.tests:
        path, _, name = test.partition("::")
        assert f"def {name}(" in (ROOT / path).read_text() if name else (ROOT / path).is_file()
