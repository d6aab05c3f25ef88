"""A whole simulated machine: body and board, bytes and time.

Time is whole nanoseconds. The body lives in control ticks; between two of them nothing changes but the
bytes that come in, so how a caller slices time has no say in what happens. ``run_until`` returns early as
soon as the board has bytes to send, and ``now_ns`` tells when that was. What comes in by ``receive`` is
heard at once and acted upon from the next tick on, as on a board whose loop has that period.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable

from firmware_protocol.body import Identity, KeptRecord
from firmware_protocol.device import DeviceEnd
from firmware_protocol.messages import GROUP_VERSIONS, Has
from firmware_protocol.settings import Settings
from firmware_protocol.vocabulary import Wired
from firmware_protocol.wire import Group

from .board import SimulatedBody
from .build import RAD_S_PER_RPM, Build
from .carriage import Switch
from .control import CUT_S, TICK_NS
from .counting import CountingBody
from .drill import Drill
from .faults import Fault
from .lay import Lay
from .settings import LEGS_MAX, hash_of, knowing, said_of, settings_of

BOARD_NAME = "simulated"
OTHER_BOARD = 0x0BAD_5EED  # by which the numbers of two boards differ
NS_PER_MS = 1_000_000


CUT_MS = round(CUT_S * 1000)
QUIET_MOST_MS = 3000  # the longest silence that is asked for as a rest


def rest_ms_of(build: Build) -> int:
    """When it rests at the latest: half as long again as it coasts from its highest speed, and the silence."""
    braking_nm = build.coulomb_nm + (build.brake_nm or 0.0)
    coasts_s = build.speed_rpm_max * RAD_S_PER_RPM * build.inertia_kg_m2 / braking_nm
    return min(CUT_MS + round(1500 * coasts_s) + QUIET_MOST_MS, 0xFFFF)


def pins_of(build: Build) -> int:
    """What this board can be told of; a guard and a wire sensor of every one."""
    pins = Wired.GUARD | Wired.WIRE_SENSOR | Wired.PEDAL | Wired.STOP_INPUT
    if build.limit_switch:
        pins |= Wired.LIMIT_SWITCH
    return int(pins)


def identity_of(build: Build) -> Identity:
    """What the simulated board says of itself."""
    versions = dict(GROUP_VERSIONS)
    if build.traverse_travel_m is None:
        del versions[Group.TRAVERSE]
    elif not build.limit_switch:
        versions[Group.TRAVERSE] = 1
    if not build.pedal:
        del versions[Group.PEDAL]
    if not build.motor:
        versions = {group: versions[group] for group in (Group.COUNTING, Group.SETTINGS)}
    has = Has(0)
    if build.direction_sense:
        has |= Has.DIRECTION_SENSE
    if build.brake_nm is not None:
        has |= Has.BRAKE
    if build.guard:
        has |= Has.GUARD
    if build.wire_sensor:
        has |= Has.WIRE_SENSOR
    if build.pedal:
        has |= Has.PEDAL | Has.STOP_INPUT
    if build.limit_switch and build.traverse_travel_m is not None:
        has |= Has.LIMIT_SWITCH
    order = (
        Group.COUNTING,
        Group.MOTOR,
        Group.TRAVERSE,
        Group.LEGS,
        Group.PEDAL,
        Group.SETTINGS,
    )
    c, m, t, le, p, s = (versions.get(group, 0) for group in order)
    rate_max_mcps = round(build.counts_per_s(build.speed_rpm_max) * 1000)
    content = settings_of(build, CUT_MS, rest_ms_of(build))
    return Identity(
        board=BOARD_NAME,
        groups=(c, m, t, le, p, s),
        has=int(has),
        legs_max=LEGS_MAX if build.motor else 0,
        rate_max_mcps=rate_max_mcps if build.motor else 0,
        edge_rate_max_cps=build.edge_rate_max_cps,
        settings_hash=hash_of(content),
        cut_ms=CUT_MS if build.motor else 0,
        rest_ms=rest_ms_of(build) if build.motor else 0,
        settings=content,
        pins=pins_of(build),
    )


class SimulatedMachine:
    """Body and board. The board's first boot is number 1 and has just happened, spindle at rest."""

    def __init__(self, build: Build, seed: int = 1, faults: Iterable[Fault] = ()) -> None:
        self.build = build
        self.now_ns = 0
        self.boot = 1
        body_class = SimulatedBody if build.motor else CountingBody
        self.body = body_class(build, seed, faults)
        self._identity = identity_of(build)
        self._out = bytearray()
        self._boot_tick = -1  # tick at which a reset is over
        self._by_watchdog = False
        self._device: DeviceEnd | None = None
        self._start_board()

    def _start_board(self) -> None:
        now_ms = self.now_ns // NS_PER_MS
        self._device = DeviceEnd(
            self.body, self._identity, self.boot, now_ms, by_watchdog=self._by_watchdog
        )
        self._hear_of(self._device)

    # --- bytes and time ----------------------------------------------------------------------

    def run_until(self, time_ns: int) -> None:
        """Move on to ``time_ns``, or to the moment the board has bytes to send, if that is sooner."""
        body = self.body
        last = time_ns // TICK_NS
        while not self._out and body.tick < last:
            if self._device is None:
                self._run_dead_tick()
            else:
                self._run_ticks(self._device, last)
        if not self._out:
            self.now_ns = max(self.now_ns, time_ns)

    def _run_ticks(self, device: DeviceEnd, last: int) -> None:
        """Ticks of the body until the device end is due or has something to hear of, at most to ``last``."""
        body = self.body
        due = -(-device.next_tick_ms() * NS_PER_MS // TICK_NS)
        body.run(max(1, min(last, due) - body.tick), self._outlook)
        self.now_ns = body.tick * TICK_NS
        if body.tick >= due or body.outlook() != self._outlook:
            self._tick_device(device, self.now_ns // NS_PER_MS)
        if body.asks_watchdog:
            self.reset(watchdog=True)

    def _tick_device(self, device: DeviceEnd, now_ms: int) -> None:
        device.tick(now_ms)
        self._hear_of(device)

    def _hear_of(self, device: DeviceEnd) -> None:
        """After the device end had a say: what it shows, and what it sends."""
        board = device.board
        self.body.show(board.wind, board.target, board.warn_before)
        self._outlook = self.body.outlook()
        self._out += device.data_to_send()
        if device.renews is not None:
            self._renew(device.renews)

    def _renew(self, content: Settings) -> None:
        """Other settings are kept: a new boot goes by them."""
        self._identity = said_of(self._identity, content)
        self.body.build = knowing(self.body.build, content)
        self.reset()

    def _run_dead_tick(self) -> None:
        self.body.step_dead()
        self.now_ns = self.body.tick * TICK_NS
        if self.body.tick >= self._boot_tick:
            self.body.lose_memory()
            self._start_board()

    def receive(self, data: bytes) -> None:
        """Bytes of the host arrive now. A board that is being reset does not hear them."""
        if self._device is not None:
            self._device.receive(data, self.now_ns // NS_PER_MS)
            self._hear_of(self._device)

    def take_bytes(self) -> bytes:
        """What the board has sent since the last time."""
        if not self._out:
            return b""
        data = bytes(self._out)
        self._out.clear()
        return data

    def change_board(self, boot: int) -> None:
        """Another board with the same settings: a number of its own, and nothing kept of any wind."""
        settings = self._identity.settings
        other = dataclasses.replace(settings, number=settings.number ^ OTHER_BOARD)
        self._identity = dataclasses.replace(self._identity, settings=other)
        self.body.keep(KeptRecord())
        self.body.keep_motion(False)
        self.reset()
        self.boot = boot

    def reset(self, watchdog: bool = False) -> None:
        """The board resets: memory lost, kept record kept, the spindle coasts on, edges are lost."""
        self.body.lose_memory()
        self.boot = self.boot % 0xFFFF + 1
        self._by_watchdog = watchdog
        self._device = None
        self._boot_tick = self.body.tick + max(1, round(self.build.boot_s * 1e9 / TICK_NS))

    # --- the operator's hands ----------------------------------------------------------------

    @property
    def drill(self) -> Drill | None:
        """The person who turns the spindle, where no motor does."""
        return self.body.drill if isinstance(self.body, CountingBody) else None

    def turn_by_hand(self, turns: float) -> None:
        """Turn the resting spindle; positive is the winding way."""
        self.body.turn_by_hand(turns)

    def put_guide_left(self) -> None:
        """Push the guide to its left end, by hand."""
        self.body.put_guide_left()

    def open_guard(self, *, is_open: bool = True) -> None:
        self.body.guard_open = is_open

    def break_wire(self) -> None:
        """The wire leaves its sensor; what is on the bobbin stays."""
        self.body.break_wire()

    def press_pedal(self, pressed: bool) -> None:
        """A foot on the pedal, or off it."""
        self.body.pedal_pressed = pressed

    def bend_switch(self, how: Switch) -> None:
        """From now on the guide's limit switch is like that."""
        self.body.carriage.switch = how

    def press_stop(self, pressed: bool) -> None:
        """A hand on the wired stop switch, which stays in until it is pulled out."""
        self.body.stop_pressed = pressed

    def join_wire(self) -> None:
        """Mend a broken wire; turns are laid again from here on."""
        self.body.join_wire()

    def pull_off(self, turns: float) -> None:
        """Take turns off the bobbin by hand, without turning the spindle."""
        self.body.pull_off(turns)

    def change_bobbin(self) -> None:
        """Put an empty bobbin on; the spindle's turns so far do not count for its wire."""
        self.body.change_bobbin()

    # --- the truth, for judges ---------------------------------------------------------------

    @property
    def turns(self) -> float:
        """True turns of the spindle since power-up, as of the last tick; winding is positive."""
        return self.body.spindle.turns

    @property
    def wind(self) -> int:
        """The wind that is open on the board; 0 without one, and while the board is being reset."""
        return 0 if self._device is None else self._device.board.wind

    @property
    def count(self) -> int:
        """What the board has counted in its newest wind."""
        return self.body.control.count

    @property
    def edges(self) -> int:
        """Net edges the sensor wheel has truly passed since power-up."""
        return self.body.spindle.whole

    @property
    def edges_lost(self) -> int:
        """Edges that came while the board could not see them."""
        return self.body.edges_lost

    @property
    def bobbin_turns(self) -> float:
        """True turns since this bobbin was put on."""
        return self.body.bobbin_turns

    @property
    def wire_turns(self) -> float:
        """True turns of wire on the bobbin: less than it has turned, where turns were pulled off
        or made without wire."""
        return self.body.wire_turns

    @property
    def moving(self) -> bool:
        return self.body.spindle.speed != 0.0

    @property
    def guide_m(self) -> float:
        """Where the guide truly stands, from the left flange; the board may believe another place."""
        return self.body.true_guide_m

    @property
    def lay(self) -> Lay:
        """The wire on the bobbin: turns, layers, unevenness, heights_m."""
        self.body.lay_up()
        return self.body.lay

    @property
    def wound_ohm(self) -> float:
        """True resistance at 20 C of what lies on the bobbin."""
        return self.lay.wound_ohm
