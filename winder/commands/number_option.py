"""Numbers given as options, read as everywhere (``quantities.read_number``); argparse tells what is wrong."""

from __future__ import annotations

import argparse


def number(text: str) -> float:
    """A plain decimal number."""
    from winder.files.quantities import QuantityError, read_number

    try:
        return read_number(text)
    except QuantityError as wrong:
        raise argparse.ArgumentTypeError(f"{wrong.what}; {wrong.remedy}") from None


def whole(text: str) -> int:
    """A plain whole number, not below nought."""
    from winder.files.quantities import QuantityError, read_whole

    try:
        found = read_whole(text)
    except QuantityError as wrong:
        raise argparse.ArgumentTypeError(f"{wrong.what}; {wrong.remedy}") from None
    if found < 0:
        raise argparse.ArgumentTypeError(f"{found} is below zero; write it without a sign")
    return found
