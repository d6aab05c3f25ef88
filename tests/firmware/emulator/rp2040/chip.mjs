// An RP2040 in virtual time: npm's rp2040js 1.4.1 (MIT), and what it does otherwise than the part mended here. Each mend
// has a name; tests/firmware/test_rp2040_emulator.py shows each at work.
import { createRequire } from 'module';
import { Flash } from './flash.mjs';

const require = createRequire(process.env.RP2040JS + '/');
const { RP2040, USBCDC } = require(process.env.RP2040JS);
const { SimulationClock } = require(process.env.RP2040JS + '/dist/cjs/clock/simulation-clock.js');

export const CYCLE_NS = 8;
const ENTRY_CYCLES = 15, RETURN_CYCLES = 13; // of an exception (Cortex-M0+: 15; what returning takes likewise)
const BOOT_NS = 0.1e9; // the ROM, and the boot stage's copy of 30 KB at 6 MHz
const STACK_TOP = 0x20040000, PAINT = 0xa5;
const BOOT_STAGE_AT = 0x41f00;

function bootChecksum(bytes) {
  let value = 0xffffffff;
  for (const byte of bytes) {
    value ^= byte << 24;
    for (let k = 0; k < 8; k++) value = value << 1 ^ (value & 0x80000000 ? 0x04c11db7 : 0);
  }
  return value >>> 0;
}

export class Chip {
  constructor(image, line, unmended) {
    this.clock = new SimulationClock();
    this.flash = new Flash(this.clock);
    this.flash.data.set(image);
    Object.assign(this, { line, unmended: new Set(unmended), sent: [], toChip: [], overruns: 0, resets: 0, problems: [], times: {} });
    Object.assign(this, { instructions: 0, cycles: 0, edgeAt: 0, latency: 0, frozen: false, hostBaud: 500000 });
    this.alarms = new Set(); // of the world around the chip: they outlive its resets
    this.receiveAlarm = this.alarm(() => this.receiveOne());
    this.shiftAlarm = this.alarm(() => this.shifted());
    this.outputsChanged = () => {};
    this.begun = () => {};
  }

  alarm(callback) {
    const alarm = this.clock.createAlarm(callback);
    this.alarms.add(alarm);
    return alarm;
  }

  mends(name) { return !this.unmended.has(name); }

  // Mend "a reset makes everything anew": a fresh chip; what the old one had scheduled dies with it, or its watchdog would
  // go on biting. The flash stays, and why it was reset.
  begin(reason = 0, heldNs = 0) {
    const keep = [], anew = this.mends('a reset makes everything anew');
    for (let a = this.clock.nextAlarm; a; a = a.next) if (!anew || this.alarms.has(a)) keep.push([a, a.nanos - this.clock.nanos]);
    this.clock.nextAlarm = null;
    for (const [alarm, left] of keep) { alarm.scheduled = false; alarm.schedule(left); }
    const rp = this.rp = new RP2040(this.clock), told = (who, what) => this.note(`${who}: ${what}`);
    rp.logger = { debug() {}, info() {}, warn: told, error: told };
    rp.sram.fill(PAINT, 0, STACK_TOP - 0x20000000);
    rp.flash.set(this.flash.data);
    this.flash.changed = (at, length) => rp.flash.set(this.flash.data.subarray(at, at + length), at);
    Object.assign(this, { open: [], extra: 0, heldUntil: this.clock.nanos + heldNs + BOOT_NS });
    this.mendExceptions();
    this.mendFlash();
    this.mendSerialLine();
    this.mendPulseWidths();
    if (this.line === 'usb') this.attachComputer();
    const watchdog = rp.peripherals[0x40058];
    watchdog.reason = reason;
    watchdog.onWatchdogTrigger = () => { watchdog.timer.enable = watchdog.alarm.enable = false; this.bitten = watchdog.reason; };
    this.watchOutputs();
    this.loadBootStage();
    this.begun();
    this.outputsChanged();
  }

  note(problem) { if (this.problems.length < 20) this.problems.push(`${problem} (pc ${this.rp.core.PC.toString(16)})`); }

  // What the boot ROM does with a flash that holds a program.
  loadBootStage() {
    const { rp } = this, stage = this.flash.data.subarray(0, 256);
    const due = new DataView(stage.buffer, stage.byteOffset).getUint32(252, true);
    if (bootChecksum(stage.subarray(0, 252)) !== due) throw new Error('the boot stage has a wrong checksum: the ROM would not start it');
    rp.sram.set(stage, BOOT_STAGE_AT);
    rp.core.SP = rp.core.PC = 0x20000000 + BOOT_STAGE_AT;
    rp.core.LR = 0;
  }

  mendExceptions() {
    const core = this.rp.core, chip = this, enter = core.exceptionEntry, leave = core.exceptionReturn;
    let lines = 0; // levels of the peripherals' requests
    core.exceptionEntry = function (number) {
      if (chip.mends('exceptions take time')) chip.extra += ENTRY_CYCLES;
      enter.call(core, number);
      // "pending ends by the entry": else one that a program pended stays pending for ever.
      if (number >= 16 && chip.mends('pending ends by the entry')) core.pendingInterrupts &= ~(1 << number - 16);
      chip.open.push([number, chip.clock.nanos]);
      if (number === 29 && chip.edgeAt) {
        chip.latency = Math.max(chip.latency, chip.clock.nanos + ENTRY_CYCLES * CYCLE_NS - chip.edgeAt);
        chip.edgeAt = 0;
      }
    };
    core.exceptionReturn = function (to) {
      if (chip.mends('exceptions take time')) chip.extra += RETURN_CYCLES;
      leave.call(core, to);
      const [number, at] = chip.open.pop() ?? [0, 0];
      if (number >= 16 && lines & 1 << number - 16) { core.pendingInterrupts |= 1 << number - 16; core.interruptsUpdated = true; } // still asked for
      chip.timed(number, (chip.clock.nanos - at) / CYCLE_NS + RETURN_CYCLES + ENTRY_CYCLES);
    };
    if (!this.mends('pending ends by the entry')) return;
    core.setInterrupt = (irq, on) => {
      const bit = 1 << irq;
      if (!on) lines &= ~bit;
      else if (!(lines & bit)) { lines |= bit; core.pendingInterrupts |= bit; core.interruptsUpdated = true; }
    };
  }

  timed(number, cycles) {
    const t = this.times[number] ??= { calls: 0, sum: 0, least: Infinity, most: 0 };
    Object.assign(t, { calls: t.calls + 1, sum: t.sum + cycles, least: Math.min(t.least, cycles), most: Math.max(t.most, cycles) });
  }

  // Mend "flash behind its interface": bytes through the SSI's queues reach the flash chip, selected by its pin.
  mendFlash() {
    if (!this.mends('flash behind its interface')) return;
    const { rp, flash } = this, ssi = rp.peripherals[0x18000], read = ssi.readUint32.bind(ssi), write = ssi.writeUint32.bind(ssi);
    const select = rp.peripherals[0x40018], queue = [];
    this.reads = true; // the interface is set to reading where the program wants to execute
    ssi.readUint32 = (at) => at === 0x60 ? queue.shift() ?? 0 : at === 0x28 ? 6 | (queue.length ? 8 : 0) : read(at);
    ssi.writeUint32 = (at, value) => {
      if (at === 0x00) this.reads = (value >>> 8 & 3) === 3;
      if (at === 0x60 && queue.length < 16) queue.push(flash.transfer(value & 255));
      else if (at === 0x60) this.note('a byte too many for the flash interface');
      else if (at !== 0x10) write(at, value);
    };
    select.writeUint32 = (at, value) => { if (at === 0x0c) flash.select((value >> 8 & 3) === 2); };
  }

  // Mend "bytes take time": one that is sent takes ten bits, one waits behind it; one that comes finds the register free
  // or is lost (the program uses no queue). A host at another speed sends what nobody can read.
  mendSerialLine() {
    const { rp } = this, uart = rp.uart[0];
    Object.assign(this, { uart, waiting: -1, shifting: -1 });
    if (!this.mends('bytes take time')) { uart.onByte = (byte) => this.sent.push(byte); return; }
    Object.defineProperty(uart, 'flags', { get: () => (uart.rxFIFO.empty ? 16 : 0) | (this.waiting >= 0 ? 32 : 0) | (this.shifting < 0 ? 128 : 8) });
    uart.checkInterrupts = () => {
      uart.interruptStatus = uart.interruptStatus & ~32 | (this.waiting < 0 ? 32 : 0);
      rp.setInterrupt(20, !!(uart.interruptStatus & uart.interruptMask));
    };
    uart.onByte = (byte) => {
      if (this.waiting >= 0) this.note('a byte written to a full register');
      else if (this.shifting >= 0) this.waiting = byte;
      else { this.shifting = byte; this.shiftAlarm.schedule(10e9 / uart.baudRate); }
      uart.checkInterrupts();
    };
  }

  shifted() {
    if (this.line === 'uart') this.sent.push(this.shifting);
    this.shifting = this.waiting;
    this.waiting = -1;
    if (this.shifting >= 0) this.shiftAlarm.schedule(10e9 / this.uart.baudRate);
    this.uart.checkInterrupts();
  }

  receiveOne() {
    const byte = this.toChip.shift(), off = Math.abs(this.uart.baudRate / this.hostBaud - 1) > 0.045;
    if (!this.uart.rxFIFO.empty) this.overruns++;
    else if (this.clock.nanos >= this.heldUntil) this.uart.feedByte(off ? byte ^ 0xa5 | 0x400 : byte); // 0x400: its overrun mark, read as an error
    if (this.toChip.length) this.receiveAlarm.schedule(10e9 / this.hostBaud);
  }

  send(bytes) {
    const idle = !this.toChip.length;
    this.toChip.push(...bytes);
    if (this.line === 'usb') this.fetch();
    else if (idle && bytes.length) this.receiveAlarm.schedule(10e9 / this.hostBaud);
  }

  // Mend "pulse widths by their registers": pins that toggle 40000 times a second cost more than all the rest.
  mendPulseWidths() {
    if (!this.mends('pulse widths by their registers')) return;
    for (const channel of this.rp.pwm.channels) channel.alarmA.enable = channel.alarmB.enable = channel.alarmBottom.enable = false;
  }

  // Mend "a computer waits until it has something to say": the emulator's answers each poll with an empty packet.
  attachComputer() {
    const { rp } = this, computer = new USBCDC(rp.usbCtrl);
    this.computer = computer;
    this.asked = 0;
    this.connected = false;
    // "Terminal ready" is said to the interface (PSTN 1.2, 6.3.12); the emulator says it to the device.
    computer.cdcSetControlLineState = (lines = 3) => {
      rp.usbCtrl.sendSetupPacket(Uint8Array.of(this.mends('lines are the interface\'s') ? 0x21 : 0x20, 0x22, lines, 0, 0, 0, 0, 0));
      computer.initialized = true;
    };
    computer.onSerialData = (data) => this.sent.push(...data);
    computer.onDeviceConnected = () => { this.connected = true; };
    if (!this.mends('a computer waits until it has something to say')) return;
    rp.usbCtrl.onEndpointRead = (end, size) => { if (end === computer.outEndpoint) { this.asked = size; this.fetch(); } };
  }

  fetch() {
    if (!this.mends('a computer waits until it has something to say')) this.toChip.splice(0).forEach((byte) => this.computer.sendSerialByte(byte));
    if (!this.asked || !this.toChip.length || !this.connected) return;
    const bytes = new Uint8Array(this.toChip.splice(0, this.asked));
    this.asked = 0;
    this.rp.usbCtrl.endpointReadDone(this.computer.outEndpoint, bytes);
  }

  // Everything that moves an output goes through these two.
  watchOutputs() {
    for (const peripheral of [this.rp.sio, this.rp.peripherals[0x40014]]) {
      const write = peripheral.writeUint32.bind(peripheral);
      peripheral.writeUint32 = (at, value) => { write(at, value); this.outputsChanged(); };
    }
  }

  // An output's level: true, false, or null while it floats.
  output(gp) {
    const pin = this.rp.gpio[gp];
    return pin.outputEnable ? pin.outputValue : null;
  }

  // An input, only when its level changes: the emulator takes each call for an edge.
  input(gp, level) {
    const pin = this.rp.gpio[gp];
    if (!this.mends('a level that stays is no edge') || pin.rawInputValue !== level) pin.setInputValue(level);
  }

  // The main program never comes round again; with interrupts off nothing does.
  hang(interruptsOff) {
    const { core, sram } = this.rp;
    sram.set([0xfe, 0xe7], STACK_TOP - 0x20000000); // a branch to itself, behind the stack
    while (core.IPSR) this.step();
    core.waiting = false;
    core.PC = STACK_TOP;
    if (interruptsOff) core.PM = true;
  }

  step() {
    const { core } = this.rp, { clock } = this;
    let cycles = core.executeInstruction();
    this.instructions++;
    cycles += this.extra;
    this.extra = 0;
    this.cycles += cycles;
    clock.tick(cycles * CYCLE_NS);
    if (core.PC >>> 28 === 1 && (!this.reads || this.flash.busy)) this.note('executes from flash that cannot be read now');
  }

  run(until, afterByteNs = Infinity) {
    const { clock } = this;
    let end = until;
    while (clock.nanos < end) {
      const { core } = this.rp;
      // Mend "a wait with something pending is none": the emulator sleeps until another line rises.
      if (core.waiting && this.mends('a wait with something pending is none') && (core.pendingSystick || core.pendingInterrupts & core.enabledInterrupts)) {
        core.waiting = false;
        core.interruptsUpdated = true;
      }
      if (clock.nanos < this.heldUntil) clock.tick(this.toNextAlarm(Math.min(end, this.heldUntil)));
      else if (core.waiting) clock.tick(this.toNextAlarm(end));
      else this.step();
      if (this.flash.fails) {
        this.flash.powerFails();
        this.resets++;
        this.begin();
      }
      if (this.bitten) {
        const reason = this.bitten;
        this.bitten = 0;
        this.resets++;
        this.begin(reason);
      }
      if (end === until && this.sent.length && afterByteNs !== Infinity) end = Math.min(until, clock.nanos + afterByteNs);
    }
  }

  toNextAlarm(end) {
    const left = end - this.clock.nanos;
    return this.clock.nextAlarm ? Math.min(left, Math.max(0, this.clock.nanosToNextAlarm)) : left;
  }

  get stackTop() { return STACK_TOP; }

  // Bytes of memory from here on that were never touched; from the variables' end on, down to where the stack ever was.
  untouched(from) {
    const { sram } = this.rp, begin = from - 0x20000000;
    let at = begin;
    while (at < STACK_TOP - 0x20000000 && sram[at] === PAINT) at++;
    return at - begin;
  }
}
