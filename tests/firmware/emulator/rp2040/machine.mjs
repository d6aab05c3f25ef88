// The machine around an RP2040: spindle and motor, the sensor and what can be wrong with it, the guide's driver, and
// who looks at drive and brake. The laws are those of motor.c, sensor.c, watch.c and guide.c beside this folder, which put
// the other chip into the same machine; times are nanoseconds, places and speeds are counts.
import { CYCLE_NS } from './chip.mjs';

export const GP = { a: 2, b: 3, duty: 6, brake: 7, enable: 8, backward: 9, step: 10, right: 11, guard: 12, wire: 13, contactor: 14, limit: 17 };
const ONE_PULSE = 1, TWO_EDGES = 2, FOUR_EDGES = 4;
const STAYS = 1, HIGH = 2, LOW = 3; // a lost channel
const STEP_NS = 100000, STEP_S = 1e-4, LATE_STEPS = 1024;
const QUADRATURE = [0, 1, 3, 2];

export class Sensor {
  constructor(chip) {
    Object.assign(this, { chip, kind: FOUR_EDGES, phase: 0, edges: 0, bend: null, shown: 0, seedValue: 1, exchanged: false });
    Object.assign(this, { bounces: null, disturbance: null, disturbed: false, disturbedNow: 0, disturbances: 0 });
    this.channels = [0, 1].map((index) => {
      const channel = { level: 0, bouncing: 0, left: 0, lost: 0 };
      channel.alarm = chip.alarm(() => this.bounceOn(channel));
      return Object.assign(channel, { index });
    });
    this.disturbAlarm = chip.alarm(() => this.disturbOn());
  }

  get phasesACount() { return this.kind === FOUR_EDGES ? 1 : 2; }
  get count() { return Math.floor(this.phase / this.phasesACount); }
  bent(k) { return this.bend ? this.bend[(k % this.bend.length + this.bend.length) % this.bend.length] : 0; }
  get phaseLength() { return 1 + this.bent(this.phase + 1) - this.bent(this.phase); }
  get phaseBegin() { return this.phase + this.bent(this.phase); }

  get trueLevels() {
    if (this.kind === ONE_PULSE) return (this.phase & 1) === 0 && this.phase !== 0 ? 1 : 0;
    return QUADRATURE[this.phase + (this.kind === TWO_EDGES ? 3 : 0) & 3];
  }

  draw() { // xorshift, 0 to 1
    let x = this.seedValue || 1;
    x ^= x << 13; x ^= x >>> 17; x ^= x << 5;
    this.seedValue = x >>> 0;
    return this.seedValue / 4294967296;
  }

  scattered(scatter, ns) { return scatter ? Math.max(CYCLE_NS, (0.1 + 1.8 * this.draw()) * ns) : ns; }

  drivePins() {
    let levels = 0;
    for (const c of this.channels) {
      let level = c.level ^ c.bouncing ^ (this.disturbed && this.disturbedNow >> c.index & 1 ? 1 : 0);
      if (c.lost === STAYS) level = this.shown >> c.index & 1;
      else if (c.lost) level = c.lost === HIGH ? 1 : 0;
      levels |= level << c.index;
    }
    this.shown = levels;
    if (this.exchanged) levels = levels >> 1 | (levels & 1) << 1;
    for (const [bit, gp] of [[1, GP.a], [2, GP.b]]) {
      const pin = this.chip.rp.gpio[gp];
      if (pin.rawInputValue !== !!(levels & bit)) this.chip.edgeAt ||= this.chip.clock.nanos;
      this.chip.input(gp, !!(levels & bit));
    }
  }

  begin() { // after a reset: levels anew
    for (const c of this.channels) Object.assign(c, { level: this.trueLevels >> c.index & 1, bouncing: 0, left: 0 });
    this.drivePins();
    this.chip.edgeAt = 0;
  }

  pass(way) {
    const before = this.count;
    this.phase += way;
    if (this.count !== before) this.edges++;
    const levels = this.trueLevels;
    for (const c of this.channels) {
      if (c.level === (levels >> c.index & 1)) continue;
      c.level ^= 1;
      c.alarm.cancel();
      Object.assign(c, { bouncing: 0, left: 0 });
      if (!this.bounces || !(this.bounces.on & (c.level ? 1 : 2))) continue;
      c.left = 2 * this.bounces.times;
      c.alarm.schedule(this.scattered(this.bounces.scattered, this.bounces.ns));
    }
    this.drivePins();
  }

  bounceOn(channel) {
    channel.bouncing ^= 1;
    this.drivePins();
    if (--channel.left > 0) channel.alarm.schedule(this.scattered(this.bounces.scattered, this.bounces.ns));
  }

  disturbOn() {
    const d = this.disturbance;
    this.disturbed = !this.disturbed;
    if (this.disturbed) {
      this.disturbedNow = d.scattered ? 1 + Math.floor(this.draw() * 3) : d.channels;
      this.disturbances++;
      if (d.times > 0) d.times--;
    }
    this.drivePins();
    if (this.disturbed) this.disturbAlarm.schedule(this.scattered(d.scattered, d.ns));
    else if (d.times) this.disturbAlarm.schedule(this.scattered(d.scattered, d.periodNs - d.ns));
  }

  lose(channels, how) { for (const c of this.channels) if (channels >> c.index & 1) c.lost = how; this.drivePins(); }
  exchange(yes) { this.exchanged = yes; this.drivePins(); }
  bounce(times, us, on, scattered) { this.bounces = times ? { times, ns: us * 1000, on, scattered } : null; }
  disturb(channels, afterUs, us, periodUs, times, scattered) {
    this.disturbance = { channels, ns: us * 1000, periodNs: periodUs * 1000, times, scattered };
    if (times && !this.disturbed) this.disturbAlarm.schedule(Math.max(CYCLE_NS, afterUs * 1000));
  }
  bendBorders(offsets) { this.bend = offsets; }
  seed(number) { this.seedValue = number >>> 0; }
}

export class Machine {
  constructor(chip) {
    Object.assign(this, { chip, lowIsOn: 0, contactorHigh: true, levels: {} });
    this.sensor = new Sensor(chip);
    Object.assign(this, { stall: 0, limit: 0, noLoad: 1, coulomb: 0, viscous: 0, brakeFull: 0, jamming: 0, stiction: 0 });
    Object.assign(this, { place: 0.5, speed: 0, mean: 0, peak: 0, steps: 0, asked: new Float64Array(LATE_STEPS), lateSteps: 0, shorted: false });
    Object.assign(this, { duty: 0, brake: 0, backward: false, push: 0, shorts: 0, forced: null, movedAt: 0, stepAt: 0, phaseAt: 0 });
    Object.assign(this, { rock: { way: 0, s: 0.06, step: 0 }, guide: { place: 0, made: 0, roseAt: 0, wayAt: 0, gap: 0, high: 0, setUp: 0, steps: [] } });
    this.watch = { overlaps: 0, overlapMost: 0, driveToBrake: 0, brakeToDrive: 0, drives: 0, brakes: 0, driveOn: false, brakeOn: false, driveOffAt: 0, brakeOffAt: 0, bothSince: 0 };
    Object.assign(this, { limitAt: null, limitFault: '', limitGone: false });
    this.limitAlarm = chip.alarm(() => { this.limitGone = true; this.lookAtLimit(); });
    this.stepAlarm = chip.alarm(() => this.step());
    this.borderAlarm = chip.alarm(() => this.border());
    this.forceAlarm = chip.alarm(() => this.forcedBorder());
    chip.begun = () => { for (const [gp, level] of Object.entries(this.levels)) chip.rp.gpio[gp].setInputValue(level); this.sensor.begin(); };
    chip.outputsChanged = () => { this.lookAtDrive(); this.lookAtGuide(); };
  }

  // --- outputs ------------------------------------------------------------------------------------

  on(gp) { const level = this.chip.output(gp); return level !== null && level !== !!(this.lowIsOn >> gp & 1); }

  share(gp, high) { // of full, by the pin's pulse width
    const pin = this.chip.rp.gpio[gp], channel = this.chip.rp.pwm.channels[3], low = !!(this.lowIsOn >> gp & 1);
    if (pin.functionSelect !== 4) return 0;
    let share = channel.csr & 1 ? Math.min(1, (high ? channel.cc >>> 16 : channel.cc & 0xffff) / (channel.top + 1)) : 0;
    share = [share, 1 - share, 0, 1][pin.outputOverride];
    return low ? 1 - share : share;
  }

  connected(gp) { // between two pulses the next may come at any time
    const pin = this.chip.rp.gpio[gp];
    return pin.functionSelect === 4 && (pin.outputOverride < 2 || (pin.outputOverride === 3) !== !!(this.lowIsOn >> gp & 1));
  }

  lookAtDrive() {
    const w = this.watch, now = this.chip.clock.nanos / CYCLE_NS, drive = this.on(GP.enable) && this.connected(GP.duty), brake = this.connected(GP.brake);
    if (drive === w.driveOn && brake === w.brakeOn) return;
    if (w.bothSince && !(drive && brake)) { w.overlapMost = Math.max(w.overlapMost, now - w.bothSince); w.bothSince = 0; }
    else if (!w.bothSince && drive && brake) { w.bothSince = now; w.overlaps++; }
    const least = (one, gap) => one ? Math.min(one, gap) : gap;
    if (drive && !w.driveOn) { w.drives++; if (!w.brakeOn && w.brakeOffAt) w.brakeToDrive = least(w.brakeToDrive, now - w.brakeOffAt); }
    if (brake && !w.brakeOn) { w.brakes++; if (!w.driveOn && w.driveOffAt) w.driveToBrake = least(w.driveToBrake, now - w.driveOffAt); }
    if (!drive && w.driveOn) w.driveOffAt = now;
    if (!brake && w.brakeOn) w.brakeOffAt = now;
    Object.assign(w, { driveOn: drive, brakeOn: brake });
  }

  get contactorOpen() { const level = this.chip.output(GP.contactor); return level === null || level !== this.contactorHigh; }

  lookAtGuide() {
    const g = this.guide, now = this.chip.clock.nanos, step = this.chip.output(GP.step) === true, right = this.chip.output(GP.right) === true;
    const least = (one, gap) => one ? Math.min(one, gap) : gap;
    if (right !== g.right) { g.right = right; g.wayAt = now; }
    if (step === g.level) return;
    g.level = step;
    if (!step) { g.high = least(g.high, now - g.roseAt); return; }
    if (g.roseAt) g.gap = least(g.gap, now - g.roseAt);
    if (g.wayAt) g.setUp = least(g.setUp, now - g.wayAt);
    g.roseAt = now;
    g.made++;
    g.place += right ? 1 : -1;
    this.lookAtLimit();
    if (g.traced) g.steps.push([now, this.placeNow, g.place]);
  }

  // The guide's switch opens at and left of this step (of those since power-up), or as it is broken: it never opens, its
  // cable is broken, it closes again by itself 3 ms later.
  limitSwitch(at, fault = '') { Object.assign(this, { limitAt: at, limitFault: fault }); this.lookAtLimit(); }
  lookAtLimit() {
    if (this.limitAt === null) return;
    let met = this.guide.place <= this.limitAt;
    if (this.limitFault === 'never') met = false;
    if (this.limitFault === 'cable') met = true;
    if (this.limitFault === 'again' && met) { this.limitAlarm.schedule(3e6); met = !this.limitGone; }
    if (this.levels[GP.limit] !== met) this.pin(GP.limit, met);
  }

  // --- spindle and motor --------------------------------------------------------------------------

  build(kind, stall, limit, noLoad, coulomb, viscous, brakeFull) {
    Object.assign(this, { stall, limit, noLoad, coulomb, viscous, brakeFull });
    this.sensor.kind = kind;
    this.sensor.begin();
    this.stepAt = this.phaseAt = this.chip.clock.nanos;
    this.stepAlarm.schedule(STEP_NS);
  }

  get placeCounts() { return (this.sensor.phaseBegin + this.place) / this.sensor.phasesACount; }
  get placeNow() { return this.placeCounts + (this.forced ? 0 : this.mean * (this.chip.clock.nanos - this.phaseAt) * 1e-9 / this.sensor.phasesACount); }

  obey() {
    const duty = this.on(GP.enable) ? this.share(GP.duty, false) : 0;
    Object.assign(this, { duty, brake: this.share(GP.brake, true), backward: this.on(GP.backward) });
    this.asked[this.steps % LATE_STEPS] = duty;
    this.push = this.asked[(this.steps - this.lateSteps + LATE_STEPS) % LATE_STEPS];
    this.steps++;
    if (this.shorted) this.push = 1;
    if (this.contactorOpen) this.push = 0;
    if (this.push && this.brake) this.shorts++;
  }

  speedAfter() {
    const sense = this.backward ? -1 : 1, v = Math.abs(this.speed), way = this.speed ? Math.sign(this.speed) : sense;
    const torque = way === sense ? Math.min(Math.max(this.stall * (this.push - v / this.noLoad), 0), this.limit) : 0;
    const resistance = this.coulomb + this.jamming + this.brakeFull * this.brake;
    if (!v && torque <= resistance + this.stiction) return 0;
    return way * Math.max(0, v + (torque - resistance - this.viscous * v) * STEP_S);
  }

  rocking() { // a belt that was stretched takes the spindle back as it comes to rest, and forward again
    const r = this.rock, t = r.step * STEP_S;
    r.step++;
    if (t >= r.s || this.push) { r.step = 0; return 0; }
    return -r.way * Math.PI / r.s * Math.sin(2 * Math.PI * t / r.s);
  }

  settle(now) {
    this.place += this.mean * (now - this.phaseAt) * 1e-9;
    while (this.place >= this.sensor.phaseLength) { this.place -= this.sensor.phaseLength; this.sensor.pass(1); }
    while (this.place < 0) { this.sensor.pass(-1); this.place += this.sensor.phaseLength; }
    const after = this.speedAfter();
    if (this.rock.way && this.speed > 0 && after === 0) this.rock.step = 1;
    const rocking = this.rock.step && after === 0 ? this.rocking() : 0;
    this.mean = ((this.speed + after) / 2 + rocking) * this.sensor.phasesACount;
    if (this.mean) this.movedAt = now;
    this.speed = after;
    this.peak = Math.max(this.peak, Math.abs(after));
    this.stepAt = this.phaseAt = now;
  }

  planBorder() { // the next one inside this step
    if (!this.mean) return;
    const left = this.mean > 0 ? this.sensor.phaseLength - this.place : this.place, ns = Math.max(0, left) / Math.abs(this.mean) * 1e9;
    if (this.phaseAt + ns < this.stepAt + STEP_NS) this.borderAlarm.schedule(this.phaseAt + ns - this.chip.clock.nanos);
  }

  border() {
    this.sensor.pass(this.mean > 0 ? 1 : -1);
    this.place = this.mean > 0 ? 0 : this.sensor.phaseLength;
    this.phaseAt = this.chip.clock.nanos;
    this.planBorder();
  }

  step() {
    this.obey();
    if (!this.forced) { this.settle(this.chip.clock.nanos); this.planBorder(); }
    this.stepAlarm.schedule(STEP_NS);
  }

  force(cps, counts, accel = 0) { // turn so from now on, so many counts (negative: without end)
    this.borderAlarm.cancel();
    this.forced = { way: Math.sign(cps), rate: accel ? Math.min(1000, Math.abs(cps)) : Math.abs(cps), top: Math.abs(cps), accel, left: counts < 0 ? Infinity : counts * this.sensor.phasesACount };
    this.speed = this.mean = 0;
    if (cps) this.forceAlarm.schedule(STEP_NS);
    else this.forceAlarm.cancel();
  }

  forcedBorder() {
    const f = this.forced;
    if (!f || f.left <= 0) return;
    this.sensor.pass(f.way);
    f.left--;
    if (f.accel) f.rate = Math.min(f.top, f.rate + f.accel / f.rate);
    if (f.left > 0) this.forceAlarm.schedule(1e9 / f.rate / this.sensor.phasesACount * this.sensor.phaseLength);
  }

  letGo() {
    this.forced = null;
    this.forceAlarm.cancel();
    Object.assign(this, { place: this.sensor.phaseLength / 2, speed: 0, mean: 0 });
    this.stepAt = this.phaseAt = this.chip.clock.nanos;
  }

  jam(cps2) { this.jamming = cps2; }
  disobey(shorted, lateS) { this.shorted = shorted; this.lateSteps = Math.min(LATE_STEPS - 1, Math.round(lateS * 10000)); }
  character(stiction, rockCounts, rockS) { this.stiction = stiction; this.rock = { way: rockCounts, s: rockS, step: 0 }; }
  pin(gp, level) { this.levels[gp] = level; this.chip.input(gp, level); }
  wire(lowIsOn, contactorHigh) { Object.assign(this, { lowIsOn, contactorHigh }); }
  takePeak() { const peak = this.peak; this.peak = Math.abs(this.speed); return peak; }
  takeSteps() { const { steps } = this.guide; Object.assign(this.guide, { steps: [], traced: true }); return steps; }
}
