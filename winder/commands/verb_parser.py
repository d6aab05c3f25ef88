"""The parser of a verb: its help keeps the lines of its description and examples as they were written."""

from __future__ import annotations

import argparse
from typing import Any


def verb_parser(
    subparsers: Any, name: str, summary: str, description: str, examples: str
) -> argparse.ArgumentParser:
    """Adds a verb to ``subparsers``, that of ``winder`` or of another verb."""
    parser: argparse.ArgumentParser = subparsers.add_parser(
        name,
        help=summary,
        description=description,
        epilog=examples,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    return parser
