"""``winder help TOPIC``: the few things people ask, answered in a few lines each."""

from __future__ import annotations

import argparse
from typing import Any

from winder.errors import UserMistake
from winder.files.nearest import nearest
from winder.screens.topics import TOPICS, topic_named

DESCRIPTION = """\
Short answers to what people ask. Without a topic it lists them. For the options
of a verb there is --help, as in: winder wind --help."""

EXAMPLES = """\
examples:
  winder help count
  winder help boards"""


def add_parser(subparsers: Any) -> None:
    parser = subparsers.add_parser(
        "help",
        help="short answers to what people ask",
        description=DESCRIPTION,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    names = ", ".join(topic.name for topic in TOPICS)
    parser.add_argument("topic", nargs="?", metavar="TOPIC", help=names)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Prints the topic, or the list of them. ``UserMistake`` for one that is not there."""
    if arguments.topic is None:
        wide = max(len(topic.name) for topic in TOPICS)
        print("\n".join(f"winder help {topic.name:<{wide}}  {topic.title}" for topic in TOPICS))
        return 0
    names = [topic.name for topic in TOPICS]
    topic = topic_named(arguments.topic)
    if topic is None:
        near = nearest(arguments.topic, names)
        raise UserMistake(
            "there is no such help topic",
            where=f"winder help {arguments.topic[:40]}",
            remedy=f"did you mean {near}?" if near else f"topics are {', '.join(names)}",
        )
    print(f"{topic.title}\n\n{topic.text}")
    return 0
