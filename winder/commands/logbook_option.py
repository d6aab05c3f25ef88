"""The one option that several verbs share: which logbook."""

from __future__ import annotations

import argparse


def add_logbook_option(parser: argparse.ArgumentParser) -> None:
    """``--logbook FILE`` after the verb; before the verb it means the same."""
    parser.add_argument(
        "--logbook",
        metavar="FILE",
        default=argparse.SUPPRESS,
        help="logbook to use (default: in your user data folder)",
    )
