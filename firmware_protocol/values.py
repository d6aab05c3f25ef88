"""Values: classes whose instances never change, and that cost little to make.

A frozen dataclass refuses every assignment while the program runs, and making one takes six times as long as making an
ordinary one; every status makes a dozen. Here the type checker refuses the assignment instead, and it is part of the tests.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar, dataclass_transform

T = TypeVar("T")


@dataclass_transform(frozen_default=True)
def value(cls: type[T]) -> type[T]:
    """A dataclass with slots, equal and hashed by its fields, that nobody assigns to."""
    return dataclass(slots=True, unsafe_hash=True)(cls)
