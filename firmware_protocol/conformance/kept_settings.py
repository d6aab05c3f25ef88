"""Section 21: settings are told as asked, and what contradicts itself or comes at the wrong time is not kept.

Nothing is ever written here: each command is one that a board must refuse.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from ..framing import encode_message
from ..messages import Verdict
from ..settings import ReadSettings, Settings, write_of
from ..wire import LAYOUT_OF, Group
from .clauses import clause, require
from .examiner import Examiner

_KIND = LAYOUT_OF[Settings].kind
NUMBER_AT = LAYOUT_OF[Settings].names.index("number") + 3  # behind token, boot and revision
BOUNCE_AT = LAYOUT_OF[Settings].names.index("bounce_us") + 3


def _told(at: Examiner) -> Settings:
    at.say(encode_message(ReadSettings()))
    heard = at.hear(1.0, until=lambda said: said.kind == _KIND)
    mine = [said for said in heard if said.kind == _KIND]
    require(bool(mine), "no settings were told")
    require(mine[-1].sequence == 0, f"they came under number {mine[-1].sequence}")
    content = mine[-1].message
    require(isinstance(content, Settings), "they are too short")
    return content  # type: ignore[no-any-return]


def _write(at: Examiner, content: Settings) -> Any:
    status = at.settled()
    return write_of(content, at.token, status.boot, status.revision)


@clause(
    "21.1", "ReadSettings is answered by the settings in force, without a number.", Group.SETTINGS
)
def read(at: Examiner) -> None:
    require(_told(at) == _told(at), "they are not the same twice")


@clause(
    "21.2",
    "Settings without a number, or with a bounce longer than the shortest period, are BAD_VALUE and not kept.",
    Group.SETTINGS,
)
def refused(at: Examiner) -> None:
    if at.settled().wind:
        at.close_wind()
    before = _told(at)
    at.expect(_write(at, replace(before, number=0)), Verdict.BAD_VALUE, NUMBER_AT)
    wrong = replace(before, number=before.number or 1, bounce_us=2, least_period_us=1)
    at.expect(_write(at, wrong), Verdict.BAD_VALUE, BOUNCE_AT)
    require(_told(at) == before, "they changed all the same")


@clause(
    "21.3",
    "WriteSettings with a wind open is WRONG_STATE, and nothing is kept.",
    Group.SETTINGS,
    Group.COUNTING,
)
def not_in_a_wind(at: Examiner) -> None:
    before = _told(at)
    at.open_wind()
    at.expect(_write(at, replace(before, number=before.number ^ 1)), Verdict.WRONG_STATE)
    at.close_wind()
    require(_told(at) == before, "they changed all the same")
