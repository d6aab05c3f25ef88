// One RP2040 on one machine, driven by JSON lines: node serve.mjs IMAGE LINE KEPT_AT KEPT [UNMENDED,...]. A request may
// send bytes, call what happens at the machine, and run for a while; the answer is how things are then.
import fs from 'fs';
import readline from 'readline';
import { Chip } from './chip.mjs';
import { GP, Machine } from './machine.mjs';

const [image, line, keptAt, kept, unmended = ''] = process.argv.slice(2);
const chip = new Chip(fs.readFileSync(image), line, unmended.split(',').filter(Boolean));
const machine = new Machine(chip);
const sensor = machine.sensor;
const CALLS = {
  machine: (name, ...rest) => machine[name](...rest),
  sensor: (name, ...rest) => sensor[name](...rest),
  reset: (heldNs, powerLost) => { if (powerLost) chip.flash.powerFails(); chip.resets++; chip.begin(0, heldNs); },
  hang: (interruptsOff) => chip.hang(interruptsOff),
  // A flash as it is told, from power-up; power fails in the middle of so manieth operation from there on.
  burn: (at, hex) => { chip.flash.data.fill(255, at); chip.flash.data.set(Buffer.from(hex, 'hex'), at); chip.begin(); },
  failAt: (operation) => { chip.flash.failAt = operation && chip.flash.operations + operation; },
  wear: (from, to) => { chip.flash.dead = [from, to]; },
  baud: (baud) => { chip.hostBaud = baud; },
  clear: () => { chip.times = {}; chip.latency = 0; },
  output: (gp) => chip.output(gp),
  peek: (at, length) => Array.from({ length }, (_, i) => chip.rp.readUint8(at + i)),
  poke: (at, byte) => chip.rp.writeUint8(at, byte),
  pokeWord: (at, word) => chip.rp.writeUint32(at, word),
  kept: (at, length) => Buffer.from(chip.flash.data.subarray(at, at + length)).toString('hex'),
  untouched: (from) => chip.untouched(from),
  stackTop: () => chip.stackTop,
  terminal: (lines) => chip.computer.cdcSetControlLineState(lines),
};
chip.flash.data.set(Buffer.from(kept, 'hex'), Number(keptAt));
chip.begin();

function state() {
  const { count, edges } = sensor, { flash } = chip, { speed, duty, push, movedAt, placeCounts, placeNow, guide, watch, shorts, contactorOpen } = machine;
  return {
    now: chip.clock.nanos, sent: Buffer.from(chip.sent.splice(0)).toString('hex'), count, edges, speed, duty, push, movedAt, place: placeCounts, placeNow,
    guide: { ...guide, steps: undefined }, watch, shorts, contactorOpen, overruns: chip.overruns, resets: chip.resets,
    problems: [...chip.problems, ...flash.problems], flash: { erasures: flash.erasures, operations: flash.operations, cuts: flash.cuts, busy: flash.busy },
    times: chip.times, latency: chip.latency, connected: !!chip.connected, enabled: machine.on(GP.enable),
  };
}

for await (const text of readline.createInterface({ input: process.stdin })) {
  const ask = JSON.parse(text), results = [];
  try {
    for (const [name, ...rest] of ask.calls ?? []) results.push(CALLS[name](...rest) ?? null);
    if (ask.send) chip.send(Buffer.from(ask.send, 'hex'));
    if (ask.until) chip.run(ask.until, ask.afterByteNs ?? Infinity);
    console.log(JSON.stringify({ ...state(), results }));
  } catch (error) {
    console.log(JSON.stringify({ died: String(error.stack) }));
  }
}
