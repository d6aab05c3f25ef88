"""What may be written where a port is asked for."""

from __future__ import annotations

import pytest

from winder.errors import UserMistake
from winder.links.names import SEED_MAX, PortChoice, parse_port


@pytest.mark.parametrize(
    ("text", "choice"),
    [
        ("sim", PortChoice("sim", True)),
        (" sim ", PortChoice("sim", True)),
        ("sim?pace=20&seed=7", PortChoice("sim?pace=20&seed=7", True, 20.0, 7)),
        ("sim?seed=0", PortChoice("sim?seed=0", True, 1.0, 0)),
        ("sim?pace=0.5", PortChoice("sim?pace=0.5", True, 0.5)),
        (f"sim?seed={SEED_MAX}", PortChoice(f"sim?seed={SEED_MAX}", True, 1.0, SEED_MAX)),
        ("sim?break=1200", PortChoice("sim?break=1200", True, break_turn=1200.0)),
        ("sim?break=0.5&pace=2", PortChoice("sim?break=0.5&pace=2", True, 2.0, None, 0.5)),
        ("./sim", PortChoice("./sim", False)),
        ("/dev/ttyACM0", PortChoice("/dev/ttyACM0", False)),
        ("COM3", PortChoice("COM3", False)),
        ("socket://host:7000?logging=debug", PortChoice("socket://host:7000?logging=debug", False)),
    ],
)
def test_a_port_is_the_simulated_bench_or_something_to_open(text, choice):
    assert parse_port(text) == choice


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no port was named"),
        ("  ", "no port was named"),
        ("simulated", "did you mean 'sim'"),
        ("SIM", "did you mean 'sim'"),
        ("simulator?pace=2", "did you mean 'sim'"),
        ("sim?", "no option ''"),
        ("sim?pase=2", "no option 'pase'; did you mean 'pace'"),
        ("sim?sead=2", "did you mean 'seed'"),
        ("sim?colour=2", "it has 'pace', 'seed' and 'break'"),
        ("sim?brake=7", "did you mean 'break'"),
        ("sim?break=", "option 'break' has no value"),
        ("sim?break=-1", "turn '-1' is not a number from 0 to"),
        ("sim?break=soon", "not a number"),
        ("sim?break=10000001", "not a number"),
        ("sim?pace", "option 'pace' has no value"),
        ("sim?pace=", "option 'pace' has no value"),
        ("sim?pace=2&pace=3", "twice"),
        ("sim?pace=2&", "no option ''"),
        ("sim?pace=0", "pace '0' is not a number from 0.01 to 1000"),
        ("sim?pace=-1", "not a number"),
        ("sim?pace=nan", "not a number"),
        ("sim?pace=inf", "not a number"),
        ("sim?pace=1e2", "not a number"),
        ("sim?pace=2,5", "with a point"),
        ("sim?pace=20x", "not a number"),
        ("sim?seed=-1", "not a whole number"),
        ("sim?seed=1.0", "not a whole number"),
        ("sim?seed=" + "9" * 19, "not a whole number"),
        ("sim?seed=" + "9" * 9999, "not a whole number"),
        ("sim?seed=\u0663", "not a whole number"),
    ],
)
def test_what_cannot_be_is_a_mistake_with_a_remedy(text, words):
    with pytest.raises(UserMistake) as mistake:
        parse_port(text)
    assert words in str(mistake.value)
    assert mistake.value.remedy
    assert len(str(mistake.value)) < 11_000
