"""What may be written where a port is asked for."""

from __future__ import annotations

import pytest

from winder.errors import UserMistake
from winder.links.names import SEED_MAX, PortChoice, foreign_system, parse_port
from winder.links.serial_link import open_serial


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
        ("sim?switch=never", PortChoice("sim?switch=never", True, switch="never")),
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
        ("sim?colour=2", "it has 'pace', 'seed', 'break' and 'switch'"),
        ("sim?brake=7", "did you mean 'break'"),
        ("sim?break=", "option 'break' has no value"),
        ("sim?break=-1", "turn '-1' is not a number from 0 to"),
        ("sim?break=soon", "not a number"),
        ("sim?break=10000001", "not a number"),
        ("sim?switch=broken", "a limit switch cannot be 'broken'"),
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


# Linux: Documentation/admin-guide/devices.txt of the kernel (ttyS, ttyUSB, ttyACM, rfcomm). Windows: COM1
# to COM9, and from COM10 on with the prefix of the device namespace (Microsoft, "Naming Files, Paths, and
# Namespaces"). macOS: a callout and a dial-in device for each port (Apple, "Device File Access Guide for
# Serial I/O"). All three as remembered, and none but Linux tried.
NAMES = {
    "linux": [
        "/dev/ttyACM0",
        "/dev/ttyUSB12",
        "/dev/ttyS1",
        "/dev/rfcomm0",
        "/dev/serial/by-id/usb-x",
    ],
    "darwin": [
        "/dev/cu.usbmodem1101",
        "/dev/tty.usbserial-AB0K",
        "/dev/cu.Bluetooth-Incoming-Port",
    ],
    "win32": ["COM3", "com3", "COM17", r"\\.\COM17"],
}
CALLED = {"linux": "Linux", "darwin": "macOS", "win32": "Windows"}


@pytest.mark.parametrize("here", NAMES)
@pytest.mark.parametrize(
    ("system", "name"), [(s, name) for s, names in NAMES.items() for name in names]
)
def test_a_port_of_another_system_is_known_by_its_name(here, system, name):
    assert foreign_system(name, here) == ("" if here == system else CALLED[system])


@pytest.mark.parametrize(
    "name",
    ["COM0", "COMX", "/dev/cu", "/dev/tty", "/dev/pts/3", "/tmp/board", "./COM3", "/dev/cu.a/b"],
)
def test_other_names_belong_to_no_system(name):
    for here in (*NAMES, "sunos5"):
        assert foreign_system(name, here) == ""


def test_a_port_of_another_system_that_is_not_there_is_told_as_one(lock_folder):
    with pytest.raises(UserMistake, match=r"does not exist \(it is called as on Windows\); "):
        open_serial("COM3", lock_folder=lock_folder)
