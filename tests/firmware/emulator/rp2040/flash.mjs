// The flash chip behind the RP2040's serial interface. The emulator has none: what a program writes goes nowhere.
// Commands and laws of a common 2 MB chip: bits only fall by programming (within a page of 256 bytes) and rise by
// erasing a sector of 4096; both want "write enable" first and take their time, typical values of such data sheets.
const FLASH_BYTES = 2 * 1024 * 1024, SECTOR = 4096, PAGE = 256;
const ERASE_NS = 45e6, PROGRAM_NS = 0.7e6;
const NUMBER = [0xe6, 0x61, 0x4c, 0x31, 0x1b, 0x57, 0x72, 0x2a]; // invented

export class Flash {
  constructor(clock) {
    Object.assign(this, { clock, data: new Uint8Array(FLASH_BYTES).fill(255), busyUntil: 0, enabled: false, selected: false });
    Object.assign(this, { bytes: [], erasures: 0, operations: 0, failAt: 0, cuts: 0, problems: [], dead: [0, 0], seed: 1 });
    this.changed = () => {}; // (at, length)
  }

  get busy() { return this.clock.nanos < this.busyUntil; }

  draw() { // 0 to 255, the same again from one seed
    this.seed = (Math.imul(this.seed, 1103515245) + 12345) >>> 0;
    return this.seed >>> 16 & 255;
  }

  address() { return (this.bytes[1] << 16 | this.bytes[2] << 8 | this.bytes[3]) & (FLASH_BYTES - 1); }

  transfer(out) { // a byte each way while the chip is selected
    const n = this.bytes.push(out) - 1, command = this.bytes[0];
    if (command === 0x05 && n) return (this.busy ? 1 : 0) | (this.enabled ? 2 : 0);
    if (this.busy) {
      if (!n && out !== 0x05) this.problems.push(`flash command ${out.toString(16)} while it is busy`);
      return 255;
    }
    if (command === 0x4b && n > 4) return NUMBER[(n - 5) & 7];
    return command === 0x03 && n > 3 ? this.data[(this.address() + n - 4) & (FLASH_BYTES - 1)] : 255;
  }

  select(on) {
    if (this.selected && !on && this.bytes.length && !this.busy) this.carryOut();
    this.selected = on;
    this.bytes = [];
  }

  carryOut() {
    const [command] = this.bytes, at = this.address();
    if (command === 0x06) this.enabled = true;
    if (command !== 0x20 && command !== 0x02) return;
    if (!this.enabled) { this.problems.push('flash is written without "write enable"'); return; }
    this.enabled = false;
    if (command === 0x20) this.erase(at & ~(SECTOR - 1));
    else this.program(at, this.bytes.slice(4));
  }

  erase(at) {
    this.burning = { at, before: null, length: SECTOR };
    this.data.fill(255, at, at + SECTOR);
    this.erasures++;
    this.takes(ERASE_NS);
    this.changed(at, SECTOR);
  }

  program(at, bytes) {
    this.burning = { at, before: this.data.slice(at, at + bytes.length), length: bytes.length };
    bytes.forEach((byte, i) => {
      const place = (at & ~(PAGE - 1)) | ((at + i) & (PAGE - 1)), [from, to] = this.dead;
      if (place < from || place >= to) this.data[place] &= byte; // a dead place takes nothing
    });
    this.takes(PROGRAM_NS);
    this.changed(at & ~(PAGE - 1), PAGE);
  }

  takes(ns) {
    this.operations++;
    this.busyUntil = this.clock.nanos + ns;
    if (this.operations === this.failAt) this.failsAt = this.clock.nanos + ns / 2;
  }

  get fails() { return this.failsAt && this.clock.nanos >= this.failsAt; }

  // Power fails. An erasure under way leaves anything; of what was being programmed some bits are not done.
  powerFails() {
    if (this.busy) {
      const { at, before, length } = this.burning;
      for (let i = 0; i < length; i++) this.data[at + i] = before ? this.data[at + i] | (before[i] & this.draw()) : this.draw() | this.draw();
      this.cuts++;
    }
    Object.assign(this, { busyUntil: 0, failsAt: 0, selected: false, enabled: false, bytes: [] });
  }
}
