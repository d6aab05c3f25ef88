// Functions of a program in an RP2040's memory, called one by one: node call.mjs IMAGE. Each line asks to write memory,
// to call with up to four arguments, and to read memory; the answer is what was read and what was returned.
import fs from 'fs';
import readline from 'readline';
import { createRequire } from 'module';

const require = createRequire(process.env.RP2040JS + '/');
const { RP2040 } = require(process.env.RP2040JS);
const RAM = 0x20000000, STACK_TOP = 0x20040000, BACK = 0x20041000;
const MOST_INSTRUCTIONS = 20e6;

const rp = new RP2040(), { core, sram } = rp;
rp.logger = { debug() {}, info() {}, warn(_, what) { throw new Error(what); }, error(_, what) { throw new Error(what); } };
sram.set(fs.readFileSync(process.argv[2]));

function call(at, args) {
  core.SP = STACK_TOP;
  core.LR = BACK | 1;
  core.PC = at & ~1;
  args.forEach((value, i) => { core.registers[i] = value; });
  for (let left = MOST_INSTRUCTIONS; core.PC !== BACK; left--) {
    if (left <= 0) throw new Error('a call does not come back');
    core.executeInstruction();
  }
  return core.registers[0] >>> 0;
}

for await (const text of readline.createInterface({ input: process.stdin })) {
  const { write = [], go, read = [] } = JSON.parse(text);
  for (const [at, hex] of write) sram.set(Buffer.from(hex, 'hex'), at - RAM);
  const returned = go ? call(go[0], go.slice(1)) : 0;
  console.log(JSON.stringify({ returned, read: read.map(([at, n]) => Buffer.from(sram.subarray(at - RAM, at - RAM + n)).toString('hex')) }));
}
