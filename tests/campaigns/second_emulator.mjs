// An ATmega328P in another emulator, and its serial line: words on standard input, one JSON object a line.
//
//   {"run": CYCLE, "bytes": HEX, "edges": N, "gap": CYCLES}
//
// lives on to that cycle, with the bytes set off now and so many edges of a two-channel sensor from now on, so far
// apart; the answer is {"cycle": ..., "bytes": HEX, "edges": passed so far}.
import { readFileSync } from "node:fs";
import { createInterface } from "node:readline";
import { createRequire } from "node:module";

const [, , library, hex] = process.argv;
const js = createRequire(import.meta.url)(library);

function program(text) {
  const flash = new Uint8Array(0x8000).fill(0xff);
  for (const line of text.split("\n")) {
    if (!line.startsWith(":") || line.slice(7, 9) !== "00") continue;
    const at = parseInt(line.slice(3, 7), 16);
    const bytes = line.slice(9, 9 + 2 * parseInt(line.slice(1, 3), 16)).match(/../g) ?? [];
    bytes.forEach((byte, i) => (flash[at + i] = parseInt(byte, 16)));
  }
  return new Uint16Array(flash.buffer);
}

const HZ = 16_000_000;
const cpu = new js.CPU(program(readFileSync(hex, "utf8")), 2048);
const ports = [js.portBConfig, js.portCConfig, js.portDConfig].map((config) => new js.AVRIOPort(cpu, config));
const [, portC, portD] = ports;
for (const config of [js.timer0Config, js.timer1Config, js.timer2Config]) new js.AVRTimer(cpu, config);
const clock = new js.AVRClock(cpu, HZ);
new js.AVRWatchdog(cpu, js.watchdogConfig, clock);
new js.AVREEPROM(cpu, new js.EEPROMMemoryBackend(1024));
const usart = new js.AVRUSART(cpu, js.usart0Config, HZ);
usart.UDRE.constant = true; // the flag is the register's state; entering its interrupt does not clear it
const out = [];
usart.onByteTransmit = (byte) => out.push(byte);
portC.setPin(2, false); // the guard is shut
portC.setPin(3, false); // the wire is there
portD.setPin(2, false);
portD.setPin(3, false);

const QUADRATURE = [0, 1, 3, 2]; // levels of A (bit 0) and B (bit 1)
const waiting = [];
let edges = 0, edgesLeft = 0, edgeAt = 0, gap = 0, byteAt = 0;

function liveUntil(cycle) {
  while (cpu.cycles < cycle) {
    if (edgesLeft && cpu.cycles >= edgeAt) {
      edges++;
      edgesLeft--;
      edgeAt += gap;
      const levels = QUADRATURE[edges & 3];
      portD.setPin(2, (levels & 1) !== 0);
      portD.setPin(3, (levels & 2) !== 0);
    }
    if (waiting.length && cpu.cycles >= byteAt) {
      usart.writeByte(waiting.shift(), true);
      byteAt = cpu.cycles + usart.cyclesPerChar;
    }
    js.avrInstruction(cpu);
    cpu.tick();
  }
}

for await (const line of createInterface({ input: process.stdin })) {
  const asked = JSON.parse(line);
  waiting.push(...Buffer.from(asked.bytes ?? "", "hex"));
  if (asked.edges) {
    edgesLeft = asked.edges;
    gap = asked.gap;
    edgeAt = cpu.cycles + gap;
  }
  liveUntil(asked.run);
  const bytes = Buffer.from(out.splice(0)).toString("hex");
  process.stdout.write(JSON.stringify({ cycle: cpu.cycles, bytes, edges }) + "\n");
}
