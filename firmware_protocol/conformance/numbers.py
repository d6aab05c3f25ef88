"""Section 5: numbered commands, and the order in which they are refused."""

from __future__ import annotations

from ..framing import encode_frame, encode_message
from ..messages import (
    COUNT_MAX,
    NO_WIND,
    Answer,
    ClearTrip,
    CloseWind,
    Cut,
    OpenWind,
    SetTarget,
    SettleNumber,
    State,
    Verdict,
)
from ..wire import LAYOUT_OF, REGISTER, Group, Sender, pack
from .clauses import Breach, clause, require
from .examiner import Examiner, name_of, verdict_words

UNKNOWN_KINDS = (0x04, 0x0F, 0x1F, 0x7F)


@clause(
    "5.1",
    "Each command is answered once, under its number, with its kind and the board's revision.",
)
def answered_once(at: Examiner) -> None:
    at.status()
    command = at.make(SettleNumber)
    sequence = at.next_sequence
    at.say(b"\0", encode_message(command, sequence))
    answers = [one for one in at.hear(0.4) if isinstance(one.message, Answer)]
    require(len(answers) == 1, f"a command was answered {len(answers)} times")
    (said,) = answers
    require(said.sequence == sequence, f"number {sequence} was answered under {said.sequence}")
    kind = LAYOUT_OF[SettleNumber].kind
    require(said.message.to == kind, f"the answer says kind 0x{said.message.to:02x}")
    status = at.status()
    require(
        said.message.revision == status.revision,
        f"the answer says revision {said.message.revision}, the status {status.revision}",
    )


@clause(
    "5.2",
    "The last number with the same bytes gets the same answer again, and nothing is done twice.",
    Group.COUNTING,
)
def again(at: Examiner) -> None:
    at.status()
    command = at.make(OpenWind, wind=at.fresh_number())
    first = at.ask(command)
    require(first.verdict is Verdict.DONE, f"OpenWind was answered {verdict_words(first)}")
    second = at.ask(command, at.sequence)
    require(
        second == first, f"the second answer is {verdict_words(second)}, revision {second.revision}"
    )
    require(at.status().revision == first.revision, "the command was executed twice")


@clause(
    "5.3",
    "The last number with other content is a CONFLICT; the remembered answer stays.",
    Group.COUNTING,
)
def other_content(at: Examiner) -> None:
    at.status()
    first = at.make(SettleNumber)
    told = at.expect(first, Verdict.DONE)
    other = at.make(OpenWind, wind=at.fresh_number())
    for sending in range(2):
        answer = at.ask(other, at.sequence)
        require(
            answer.verdict is Verdict.CONFLICT, f"sending {sending + 1} got {verdict_words(answer)}"
        )
    require(at.ask(first, at.sequence) == told, "the remembered answer is gone")
    require(at.status().wind == NO_WIND, "the other command was executed")


@clause("5.4", "Any number but the last and the next is a CONFLICT and uses up nothing.")
def out_of_turn(at: Examiner) -> None:
    at.status()
    at.expect(at.make(SettleNumber), Verdict.DONE)
    for ahead in (2, 3, 100, 254):
        answer = at.ask(at.make(SettleNumber), (at.sequence + ahead - 1) % 255 + 1)
        require(answer.verdict is Verdict.CONFLICT, f"{ahead} ahead got {verdict_words(answer)}")
    at.expect(at.make(SettleNumber), Verdict.DONE)


@clause("5.5", "After number 255 comes 1.")
def wraps(at: Examiner) -> None:
    at.status()
    for _ in range(256):
        answer = at.ask(at.make(SettleNumber))
        if answer.verdict is not Verdict.DONE:
            raise Breach(f"number {at.next_sequence} got {verdict_words(answer)}")


@clause("5.6", "A refused command uses up its number.", Group.COUNTING)
def refused_counts(at: Examiner) -> None:
    at.status()
    refused = at.make(OpenWind, wind=NO_WIND)
    told = at.expect(refused, Verdict.BAD_VALUE)
    answer = at.ask(at.make(SettleNumber), at.sequence)
    require(
        answer.verdict is Verdict.CONFLICT,
        f"its number with other content got {verdict_words(answer)}",
    )
    require(at.ask(refused, at.sequence) == told, "its answer is not remembered")
    at.expect(at.make(SettleNumber), Verdict.DONE)


@clause("5.7", "MALFORMED, UNSUPPORTED and NO_SESSION use up no number.")
def unused_numbers(at: Examiner) -> None:
    at.status()
    settle = at.make(SettleNumber)
    sequence = at.next_sequence
    kind = LAYOUT_OF[SettleNumber].kind
    for sent, payload, due in (
        (kind, pack(settle)[:-1], Verdict.MALFORMED),
        (UNKNOWN_KINDS[0], b"\x01" * 8, Verdict.UNSUPPORTED),
        (kind, pack(at.make(SettleNumber, token=at.fresh_number())), Verdict.NO_SESSION),
    ):
        answer = at.answer_to(sent, sequence, payload)
        require(answer.verdict is due, f"{due.name} was due, {verdict_words(answer)} came")
    require(at.ask(settle, sequence).verdict is Verdict.DONE, "the number was used up")


@clause(
    "5.8",
    "A kind that is unknown, or of a group that the board does not have, is UNSUPPORTED before all else, whatever its length.",
)
def unsupported(at: Examiner) -> None:
    absent = [
        kind
        for kind, layout in REGISTER.items()
        if layout.sender is Sender.HOST
        and layout.group is not Group.BASE
        and not at.has(layout.group)
    ]
    for kind in (*UNKNOWN_KINDS, *absent):
        for payload in (b"", b"\x01" * 44):
            answer = at.answer_to(kind, 9, payload)
            require(
                answer.verdict is Verdict.UNSUPPORTED,
                f"{name_of(kind)} with {len(payload)} bytes got {verdict_words(answer)}",
            )


@clause("5.9", "MALFORMED goes before NO_SESSION, NO_SESSION before CONFLICT.")
def early_order(at: Examiner) -> None:
    at.status()
    foreign = pack(at.make(SettleNumber, token=at.fresh_number()))
    kind = LAYOUT_OF[SettleNumber].kind
    answer = at.answer_to(kind, 99, foreign[:-1])
    require(answer.verdict is Verdict.MALFORMED, f"short and foreign got {verdict_words(answer)}")
    answer = at.answer_to(kind, 99, foreign)
    require(
        answer.verdict is Verdict.NO_SESSION, f"foreign, out of turn got {verdict_words(answer)}"
    )


@clause("5.10", "CONFLICT goes before STALE.", Group.COUNTING)
def conflict_first(at: Examiner) -> None:
    at.status()
    stale = at.make(OpenWind, wind=at.fresh_number(), revision=(at.settled().revision + 7) & 0xFFFF)
    answer = at.ask(stale, (at.sequence + 5) % 255 + 1)
    require(
        answer.verdict is Verdict.CONFLICT, f"stale and out of turn got {verdict_words(answer)}"
    )


@clause(
    "5.11",
    "A command that believes another boot, wind or revision is STALE and does nothing.",
    Group.COUNTING,
)
def stale(at: Examiner) -> None:
    wind = at.open_wind()
    status = at.status()
    for field, value in (
        ("boot", (status.boot + 1) & 0xFFFF),
        ("wind", wind ^ 1),
        ("wind", wind ^ 0x8000_0000),
        ("revision", (status.revision + 1) & 0xFFFF),
        ("revision", (status.revision - 1) & 0xFFFF),
    ):
        answer = at.ask(at.make(CloseWind, **{field: value}))
        require(answer.verdict is Verdict.STALE, f"another {field} got {verdict_words(answer)}")
    require(at.status().wind == wind, "the wind was closed all the same")


@clause("5.12", "STALE goes before WRONG_STATE, WRONG_STATE before BAD_VALUE.", Group.COUNTING)
def late_order(at: Examiner) -> None:
    revision = at.status().revision
    at.expect(at.make(CloseWind, revision=revision ^ 1), Verdict.STALE)
    at.expect(at.make(SetTarget, count=0, warn_before=0), Verdict.WRONG_STATE)
    at.open_wind()
    at.expect(at.make(OpenWind, wind=NO_WIND), Verdict.WRONG_STATE)


@clause("5.13", "BAD_VALUE tells the index of the first bad field.", Group.COUNTING)
def bad_values(at: Examiner) -> None:
    at.status()
    at.expect(at.make(OpenWind, wind=NO_WIND), Verdict.BAD_VALUE, 3)
    at.open_wind()
    for count, warn, detail in (
        (0, 0, 4),
        (-1, 0, 4),
        (COUNT_MAX + 1, 0, 4),
        (0, 9, 4),
        (100, 101, 5),
    ):
        at.expect(at.make(SetTarget, count=count, warn_before=warn), Verdict.BAD_VALUE, detail)


@clause("5.14", "A refusal changes nothing.", Group.COUNTING)
def refusal_changes_nothing(at: Examiner) -> None:
    at.open_wind()
    before = at.status()
    at.expect(at.make(OpenWind, wind=at.fresh_number()), Verdict.WRONG_STATE)
    at.expect(at.make(CloseWind, boot=before.boot ^ 1), Verdict.STALE)
    at.expect(at.make(SetTarget, count=0, warn_before=0), Verdict.BAD_VALUE)
    after = at.status()
    for field in ("state", "wind", "revision", "generation", "leg"):
        was, now = getattr(before, field), getattr(after, field)
        require(was == now, f"`{field}` went from {was} to {now}")


@clause(
    "5.20", "OpenWind opens the wind at count 0 and raises the revision by one.", Group.COUNTING
)
def opens(at: Examiner) -> None:
    revision = at.status().revision
    wind = at.fresh_number()
    answer = at.expect(at.make(OpenWind, wind=wind), Verdict.DONE)
    status = at.status()
    require(status.wind == wind, f"the status says wind {status.wind}, not {wind}")
    require(status.state is State.STILL, f"the state is {status.state}")
    zeros = (status.count, status.unattributed, status.implausible)
    require(zeros == (0, 0, 0), f"count, unattributed and implausible begin at {zeros}")
    due = (revision + 1) & 0xFFFF
    require(answer.revision == due, f"the answer says revision {answer.revision}, not {due}")
    require(status.revision == due, f"the status says revision {status.revision}, not {due}")


@clause(
    "5.21",
    "SetTarget takes every count up to COUNT_MAX and does not raise the revision.",
    Group.COUNTING,
)
def targets(at: Examiner) -> None:
    at.open_wind()
    revision = at.status().revision
    for count, warn in ((1, 0), (1, 1), (5000, 100), (COUNT_MAX, COUNT_MAX)):
        at.expect(at.make(SetTarget, count=count, warn_before=warn), Verdict.DONE)
    require(at.status().revision == revision, "the revision rose")


@clause(
    "5.22",
    "CloseWind leaves no wind, state STILL and the count as it was, and raises the revision by one.",
    Group.COUNTING,
)
def closes(at: Examiner) -> None:
    at.open_wind()
    before = at.status()
    answer = at.expect(at.make(CloseWind), Verdict.DONE)
    status = at.status()
    require(status.wind == NO_WIND, f"the status says wind {status.wind}")
    require(status.state is State.STILL, f"the state is {status.state}")
    require(status.count == before.count, f"the count went from {before.count} to {status.count}")
    due = (before.revision + 1) & 0xFFFF
    require(
        answer.revision == due == status.revision, f"the revision is {status.revision}, not {due}"
    )
    at.expect(at.make(CloseWind), Verdict.WRONG_STATE)


@clause(
    "5.23",
    "SettleNumber does nothing but use up its number, with a wind and without.",
    Group.COUNTING,
)
def settles(at: Examiner) -> None:
    at.open_wind()
    before = at.status()
    at.expect(at.make(SettleNumber), Verdict.DONE)
    after = at.status()
    require(after.revision == before.revision, "the revision rose")
    require(after.wind == before.wind, "the wind changed")


@clause("5.24", "ClearTrip where nothing tripped is WRONG_STATE.", Group.COUNTING)
def clears_nothing(at: Examiner) -> None:
    at.status()
    at.expect(at.make(ClearTrip, trip=1), Verdict.WRONG_STATE)
    at.open_wind()
    at.expect(at.make(ClearTrip, trip=0), Verdict.WRONG_STATE)


@clause(
    "6.1",
    "A stop is always answered DONE, number 0, also without a session; at rest nothing changes.",
)
def stops(at: Examiner) -> None:
    before = at.status()
    for _ in range(3):
        said = at.stop()
        good = isinstance(said.message, Answer) and said.message.verdict is Verdict.DONE
        require(good, f"it was answered {verdict_words(said.message)}")
        require(said.sequence == 0, f"it was answered under number {said.sequence}")
        require(said.message.revision == before.revision, "its answer says another revision")
    after = at.status()
    require(after.revision == before.revision, "the revision rose")
    require(after.state is State.STILL, f"the state is {after.state}")
    at.expect(at.make(SettleNumber), Verdict.DONE)


@clause(
    "6.2",
    "A cut is answered DONE, number 0; a board without MOTOR answers it UNSUPPORTED under the frame's number.",
)
def cuts(at: Examiner) -> None:
    revision = at.status().revision
    kind = LAYOUT_OF[Cut].kind
    said = at.reply(encode_frame(kind, 7, b""), kind)
    due, sequence = (Verdict.DONE, 0) if at.has(Group.MOTOR) else (Verdict.UNSUPPORTED, 7)
    good = isinstance(said.message, Answer) and said.message.verdict is due
    require(good, f"it was answered {verdict_words(said.message)}")
    require(said.sequence == sequence, f"it was answered under number {said.sequence}")
    require(at.status().revision == revision, "the revision rose")
