"""What can go wrong between a bench verb and its board: one clear error each, nothing half written, the board as before."""

from __future__ import annotations

import os
import select
import threading
import tty
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager

import pytest
from running import AT_ONCE, short_recipe_file

from firmware_protocol.framing import FrameReader, encode_message
from firmware_protocol.messages import BASE_VERSION, Answer, Hello, Verdict, Welcome
from firmware_protocol.wire import LAYOUT_OF, unpack
from winder.clock import HandClock, SystemClock
from winder.commands.main import main
from winder.errors import WinderError
from winder.links.port_lock import PortLock
from winder.links.ports import names_of
from winder.links.pty_server import PtyServer
from winder.links.simulated_link import SimulatedLink
from winder.machine.model import SIMULATED_BENCH
from winder.service.bodies import simulated_machine
from winder.service.known_machines import Known, known_file, remember
from winder.service.teaching.bench import TaughtBoard
from winder.service.teaching.dialogue import Question
from winder.service.teaching.wiring import wire_up
from winder.simulator.machine import SimulatedMachine

HELLO = LAYOUT_OF[Hello].kind


@pytest.fixture(autouse=True)
def own_folders(tmp_path, tmp_path_factory, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path_factory.mktemp("locks")))


class Typed:
    """Standard input: an answer a line; a callable is called as its line is asked for, and answers with Enter."""

    def __init__(self, *answers: str | Callable[[], object]) -> None:
        self._answers = list(answers)

    def isatty(self) -> bool:
        return False

    def readline(self) -> str:
        if not self._answers:
            return ""
        answer = self._answers.pop(0)
        if callable(answer):
            answer()
            return "\n"
        return f"{answer}\n"


@contextmanager
def answering(answers: Callable[[Hello], bytes]) -> Iterator[str]:
    """A port at which each hello is answered so."""
    master, other = os.openpty()
    tty.setraw(other)
    stop, reader = threading.Event(), FrameReader()

    def serve() -> None:
        while not stop.is_set():
            if select.select([master], [], [], 0.05)[0]:
                for frame in reader.feed(os.read(master, 4096)):
                    if frame.kind == HELLO:
                        os.write(master, answers(unpack(frame.kind, frame.payload)))

    thread = threading.Thread(target=serve, daemon=True)
    thread.start()
    try:
        yield os.ttyname(other)
    finally:
        stop.set()
        thread.join(5.0)
        os.close(master)
        os.close(other)


class Served:
    """A simulated bench on a port, which can be pulled out."""

    def __init__(self) -> None:
        self.machine: SimulatedMachine = simulated_machine(SIMULATED_BENCH)
        self._stop, self._stack = threading.Event(), ExitStack()
        server = self._stack.enter_context(PtyServer(self.machine, SystemClock(), False))
        self.port = server.path
        self._thread = threading.Thread(target=server.serve, args=(self._stop,), daemon=True)
        self._thread.start()

    def pull_out(self) -> None:
        self._stop.set()
        self._thread.join(5.0)
        self._stack.close()


@pytest.fixture
def served():
    made = Served()
    yield made
    made.pull_out()


def other_version(hello: Hello) -> bytes:
    version = BASE_VERSION + 1
    return encode_message(
        Welcome(version, hello.token, 1, 100, "strange", bytes(6), 0, 0, 0, 0, 0, 0, 0, 0, 0, 0)
    )


def held(_hello: Hello) -> bytes:
    return encode_message(Answer(HELLO, Verdict.HELD, 0, 0))


def nobody(_hello: Hello) -> bytes:
    return b""


def words_of(verb: str, port: str, folder) -> list[str]:
    """A verb at this port; for ``wind`` it is the port of a machine that was taught."""
    if verb == "wind":
        main(["bench", "new", str(folder / "taught.toml")])
        remember(Known(port, "winding", str(folder / "taught.toml"), 7))
        recipe = short_recipe_file(folder, turns=2)
        return ["wind", str(recipe), *AT_ONCE, "--logbook", str(folder / "book")]
    if verb == "teach":
        return ["bench", "teach", "--port", port, "--machine", str(folder / "new.toml")]
    return ["bench", "check", "--port", port]


def failed(capsys, verb, port, folder, said) -> None:
    """One error that says so, exit code 1, and nothing written."""
    words = words_of(verb, port, folder)
    known = known_file().read_text() if known_file().exists() else None
    before = set(folder.iterdir())
    capsys.readouterr()
    assert main(words) == 1
    _, err = capsys.readouterr()
    assert said in err and port in err and err.count("\n") == 1, err
    assert set(folder.iterdir()) == before, "a file was written"
    assert (known_file().read_text() if known_file().exists() else None) == known


@pytest.mark.parametrize("verb", ["teach", "check", "wind"])
def test_a_port_in_use_is_left_alone(capsys, tmp_path, served, verb):
    lock = PortLock()
    lock.take(names_of(served.port))
    try:
        failed(capsys, verb, served.port, tmp_path, "is in use by")
    finally:
        lock.release()
    assert served.machine.boot == 1 and served.machine.wind == 0


@pytest.mark.parametrize("verb", ["teach", "wind"])
@pytest.mark.parametrize(
    ("answers", "said"),
    [
        (nobody, "nothing on this port answers"),
        (other_version, "another version"),
        (held, "another program is winding with this board"),
    ],
    ids=["no board", "another version", "held"],
)
def test_what_is_no_board_for_us_is_one_clear_error(capsys, tmp_path, verb, answers, said):
    with answering(answers) as port:
        failed(capsys, verb, port, tmp_path, said)


def test_the_check_says_of_a_port_without_a_board_which_clause_it_fails(capsys, tmp_path):
    with answering(nobody) as port:
        assert main(["bench", "check", "--port", port]) == 1
    out = capsys.readouterr().out
    assert "2.1  failed" in out and "0 clauses passed, 1 failed" in out


def test_a_board_that_goes_away_in_the_middle_of_teaching(capsys, tmp_path, monkeypatch, served):
    monkeypatch.setattr("sys.stdin", Typed("my bench", "yes", "20", served.pull_out))
    failed(capsys, "teach", served.port, tmp_path, "the port closed")


def test_a_board_that_goes_away_during_the_check_by_hand(capsys, monkeypatch, served):
    monkeypatch.setattr("sys.stdin", Typed(served.pull_out))
    assert main(["bench", "check", "--port", served.port, "--by-hand"]) == 1
    out, err = capsys.readouterr()
    assert "rest  passed" in out and "the port closed during the check" in err
    assert err.count("\n") == 1


def test_a_board_that_goes_away_while_it_is_asked_who_it_is(capsys, tmp_path, monkeypatch, served):
    from winder.service import recognising

    truly = recognising.greet

    def greet_and_go(*asked):
        met = truly(*asked)
        served.pull_out()
        return met

    monkeypatch.setattr(recognising, "greet", greet_and_go)
    failed(capsys, "wind", served.port, tmp_path, "the port closed while the board was asked")


# --- settings that contradict each other ------------------------------------------------------------


class Answers:
    """A person who answers by a part of each question, else yes."""

    def __init__(self, **said: str) -> None:
        self._said = {
            "The sensor: 1": "4",
            "turns a minute": "1500",
            "About how many counts": "20",
            "For how many seconds": "1.5",
            "while their pin is LOW": "",
            "Steps that move it": "400",
            "Millimetres that it can": "100",
            "Millimetres a second": "10",
        } | {part.replace("_", " "): answer for part, answer in said.items()}

    def begin(self, step: object, coming: object) -> None:
        pass

    def tell(self, line: str) -> None:
        pass

    def ask(self, question: Question) -> str:
        return next((said for part, said in self._said.items() if part in question.text), "yes")


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"turns_a_minute": "100000", "About_how_many_counts": "100"}, "rate max mcps"),
        ({"turns_a_minute": "999999", "About_how_many_counts": "1000"}, "rate max mcps"),
        ({"turns_a_minute": "60000", "About_how_many_counts": "20000"}, "rate max mcps"),
        ({"For_how_many_seconds": "999999"}, ""),
        ({"Steps_that_move_it": "5"}, "step pm"),
        ({"Millimetres_that_it_can": "999999"}, "travel steps"),
        ({"Millimetres_a_second": "999"}, "steps a ms"),
    ],
)
def test_settings_that_cannot_be_are_refused_whole_and_the_board_keeps_its_own(said, field):
    machine, clock = simulated_machine(SIMULATED_BENCH), HandClock()
    board = TaughtBoard(SimulatedLink(machine, clock), clock, "sim")
    before, boot = board.read_settings(), machine.boot
    if not field:  # the longest time to rest that a board can keep
        wire_up(board, Answers(**said), anew=True)
        assert board.read_settings().rest_ms == 0xFFFF
        return
    with pytest.raises(WinderError, match=f"the board refuses these settings: {field}") as refused:
        wire_up(board, Answers(**said), anew=True)
    assert "the board is as it was" in refused.value.remedy
    assert board.read_settings() == before and machine.boot == boot
