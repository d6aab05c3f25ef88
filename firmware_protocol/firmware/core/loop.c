/* The control loop of a board with a motor: it sees edges and the time, nothing else.
 *
 * Speed is the mean between the newest edges of two steps of the loop; the reference speed is averaged over
 * the very same stretch, so that few edges make the loop slow but never wrong. Duty is what the set-up learned
 * of the motor plus a proportional-integral correction. Before a stop the reference follows
 * v = sqrt(creep^2 + 2 a s) of the counts s that are left, creeps over the last of them, and the edge itself
 * cuts the drive (edges.h). A leg with coast_counts is cut that early, coasts to rest and gets one gentle nudge:
 * a duty that rises slowly from below friction until the target edge is seen.
 *
 * Products go through 64 bits: that is slow on a small chip, but edges are counted in their interrupt.
 */
#include "guide.h"
#include "loop.h"

#if CORE_MOTOR

#define STEP_MS 10
#define TICKS_PER_MS (PORT_CLOCK_HZ / 1000)
#define COUNT_WAY ((int64_t)PORT_CLOCK_HZ * 1000) /* one count as a way: thousandths of counts/s times ticks */
#define SPAN_MAX (UINT32_C(1) << 28)              /* ticks; keeps a product within 64 bits */

#define SILENT_MS 500          /* then push harder */
#define STALL_MS 1000          /* at full duty without an edge */
#define BOOST_PER_MS 200       /* millionths of duty added while no edge comes */
#define CREEP_SETTLE_DIVISOR 4 /* a quarter of a second at creep speed before a stop */
#define NUDGE_RISE_MAX 20      /* millionths of duty per millisecond */
#define NUDGE_DUTY_MAX 600000

/* --- what the edges tell ---------------------------------------------------------------------- */

static void judge(int32_t rate, uint32_t stretch) {
    int32_t asked = motion.top_mcps > motion.reference_mcps ? motion.top_mcps : motion.reference_mcps;
    int64_t most = (int64_t)asked + asked / 2 + (int64_t)(motor.full_rate_mcps / 8);
    if (rate > most) {
        motion_trip(TRIP_OVERSPEED);
        return;
    }
    if (motion.edges_known < 3)
        return;
    int32_t change = rate - motion.rate_mcps;
    uint64_t pull = motor.full_accel_mcps2; /* the most that can change it */
    if (change < 0) {
        change = -change;
        pull = pull * (motor.friction_permille + motor.brake_permille + 100u) / 1000u;
    }
    uint32_t span = stretch + motion.stretch;
    uint64_t allowed = pull * 3u / 2u * (span < SPAN_MAX ? span : SPAN_MAX) / PORT_CLOCK_HZ;
    allowed += (uint64_t)(motion.rate_mcps / 4) + 1000u;
    if ((uint64_t)change > allowed)
        motion_trip(TRIP_SENSOR_IMPLAUSIBLE);
}

/* Speed error over the newest stretch. */
static void correct(int32_t error, uint32_t stretch) {
    uint32_t stretch_ms = stretch / TICKS_PER_MS;
    bool held = (motion.duty_permille >= 1000 && error > 0) ||
                (error < 0 && motion.duty_permille == 0 && (!motion_has_brake() || motion.brake_permille >= 1000));
    if (!held) {
        uint32_t gain = stretch_ms < 116 ? 3 * stretch_ms : 350; /* 3 a second, at most 0.35 of one error */
        motion.integral_mcps = clamp((int64_t)motion.integral_mcps + gained(error, gain), -SPEED_MAX, SPEED_MAX);
    }
    /* 12 a second; edges far apart weaken the correction: 0.3 of one error */
    uint32_t gain = stretch_ms > 25 ? 300000u / stretch_ms : 12000u;
    motion.proportional_mcps2 = gained(error, gain);
    if (motion.boost != 0) {
        int64_t learned = (int64_t)motion.boost * motor.full_rate_mcps / (2 * FULL);
        motion.integral_mcps = clamp(motion.integral_mcps + learned, -SPEED_MAX, SPEED_MAX);
        motion.boost = 0;
    }
}

static bool tracking(void) {
    return motion.mode == MODE_TRACK || motion.mode == MODE_SLOW;
}

static void see(const struct edges *now, uint16_t number, uint32_t edge_clock) {
    if (tracking() && (uint16_t)(now->against - motion.against) > 1) /* before the speed is judged that it makes up */
        motion_trip(TRIP_SENSOR_IMPLAUSIBLE);
    motion.against = now->against;
    int64_t way = motion.way + (int64_t)motion.reference_mcps * (int32_t)(edge_clock - motion.step_clock);
    if (motion.edges_known) {
        uint32_t stretch = edge_clock - motion.edge_clock;
        if (stretch == 0)
            stretch = 1;
        uint64_t seen = (uint64_t)number * (uint64_t)COUNT_WAY / stretch;
        int32_t rate = seen > SPEED_MAX ? SPEED_MAX : (int32_t)seen;
        if (tracking()) {
            correct(clamp(way / (int64_t)stretch - rate, -SPEED_MAX, SPEED_MAX), stretch);
            judge(rate, stretch);
        }
        motion.rate_mcps = rate;
        motion.stretch = stretch;
    }
    motion.edges_known = (uint8_t)least(motion.edges_known + (number > 3 ? 3 : number), 3);
    motion.edge_clock = edge_clock;
    motion.way = -(int64_t)motion.reference_mcps * (int32_t)(edge_clock - motion.step_clock);
    bool in_plan = tracking() && motion.move == NULL;
    if (in_plan && now->count >= motion.leg_end && now->count < motion.stop_at)
        motion_take_leg();
}

void motion_begin_nudge(void) {
    motion.mode = MODE_NUDGE;
    motion.edges_known = 0;
    motion.quiet_ms = motion.saturated_ms = motion.now_ms;
    int32_t friction = (int32_t)motor.friction_permille * 1000;
    int32_t learned = friction + share(motion.integral_mcps, motor.full_rate_mcps);
    if (learned < 0)
        learned = 0;
    motion.nudge_duty = least(friction, learned) / 10 * 6;
    motion_arm(0);
    motion_drive(0, 0);
}

/* --- the step --------------------------------------------------------------------------------- */

static int32_t next_reference(uint32_t passed_ms, int32_t left) {
    int32_t reference = motion.reference_mcps;
    int32_t change = (int32_t)((int64_t)motion.accel_mcps2 * passed_ms / 1000);
    if (change == 0)
        change = 1;
    if (motion.mode == MODE_SLOW)
        return reference > change ? reference - change : 0;
    int32_t top = motion.top_mcps, wanted;
    if (reference < top)
        wanted = least(clamp((int64_t)reference + change, 0, SPEED_MAX), top);
    else
        wanted = reference - change > top ? reference - change : top;
    int64_t gone = 0; /* thousandths of a count since the newest edge, at most one */
    if (motion.edges_known)
        gone = (int64_t)reference * (int32_t)(motion.clock - motion.edge_clock) / PORT_CLOCK_HZ;
    int64_t mcounts = (int64_t)left * 1000 - (gone < 1000 ? gone : 1000) -
                      (motion.creep_mcps / CREEP_SETTLE_DIVISOR + 1000);
    if (mcounts <= 0)
        return least(wanted, motion.creep_mcps);
    if (mcounts >= (int64_t)motion.slow_mcounts)
        return wanted;
    uint64_t square = (uint64_t)motion.creep_mcps * (uint64_t)motion.creep_mcps +
                      2u * (uint64_t)motion.stop_accel_mcps2 * (uint64_t)mcounts;
    return least(wanted, root(square));
}

/* No edge in this step: push harder when one is overdue, trip when none can be explained. True: tripped. */
static bool hear_silence(void) {
    uint32_t since = motion.edges_known ? motion.clock - motion.edge_clock
                                        : (motion.now_ms - motion.quiet_ms) * TICKS_PER_MS;
    uint32_t since_ms = since / TICKS_PER_MS;
    int64_t late = motion.way - COUNT_WAY;
    if (motion.edges_known && late > COUNT_WAY / 2 && since_ms != 0) {
        int32_t error = clamp(late / (int64_t)since, -SPEED_MAX, SPEED_MAX);
        motion.proportional_mcps2 = gained(error, since_ms > 25 ? 300000u / since_ms : 12000u);
    }
    int32_t slower = least(motion.rate_mcps, motion.reference_mcps);
    if (motion.edges_known > 2 && since_ms > 100 && slower > 0 && since_ms > 5000000u / (uint32_t)slower) {
        /* Twice as fast as brake and friction could have stopped it: not the spindle, the sensor. */
        uint64_t pull = (uint64_t)motor.full_accel_mcps2 * (motor.friction_permille + motor.brake_permille) / 1000u;
        uint64_t stopped_ms = (uint64_t)motion.rate_mcps * 500u / (pull + 1u);
        motion_trip(since_ms < stopped_ms ? TRIP_SENSOR_IMPLAUSIBLE : TRIP_STALLED);
        return true;
    }
    if (late > COUNT_WAY * 3 / 2 && since_ms > SILENT_MS)
        motion.boost = clamp((int64_t)motion.boost + BOOST_PER_MS * STEP_MS, 0, FULL);
    if (motion.duty_permille < 1000) {
        motion.saturated_ms = motion.now_ms;
    } else if (motion.now_ms - motion.saturated_ms > STALL_MS && since_ms > STALL_MS) {
        motion_trip(TRIP_STALLED);
        return true;
    }
    return false;
}

static void track(uint32_t passed_ms, bool quiet, int32_t left) {
    int32_t reference = next_reference(passed_ms, left);
    if (motion.mode == MODE_SLOW && reference <= motion.creep_mcps) {
        motion_cut(false);
        return;
    }
    int32_t most = motion.accel_mcps2 > motion.stop_accel_mcps2 ? motion.accel_mcps2 : motion.stop_accel_mcps2;
    int32_t slope = clamp((int64_t)(reference - motion.reference_mcps) * 1000 / (int32_t)passed_ms, -most, most);
    motion.reference_mcps = reference;
    if (quiet && hear_silence())
        return;
    int32_t pull = clamp((int64_t)slope + motion.proportional_mcps2, -INT32_MAX, INT32_MAX);
    int32_t torque = (int32_t)motor.friction_permille * 1000 + share(pull, motor.full_accel_mcps2) +
                     share(motion.integral_mcps, motor.full_rate_mcps) + motion.boost;
    if (torque < 0 && motion_has_brake())
        motion_drive(0, (int32_t)((int64_t)-torque * 1000 / motor.brake_permille));
    else
        motion_drive(torque + share(reference, motor.full_rate_mcps), 0);
}

/* Duty rises until an edge is seen at a gentle speed; the target edge itself cuts the drive. */
static void nudge(uint32_t passed_ms) {
    int32_t gentle = root((uint64_t)motion.stop_accel_mcps2 * 600u) + 1; /* sqrt(0.6 a) */
    int64_t rise = (int64_t)motion.stop_accel_mcps2 * (FULL / 4000) / motor.full_rate_mcps + 1;
    uint32_t since_ms = (motion.clock - motion.edge_clock) / TICKS_PER_MS;
    uint32_t edge_due_ms = 1000000u / (uint32_t)gentle + 1; /* at the gentle speed */
    if (rise > NUDGE_RISE_MAX)
        rise = NUDGE_RISE_MAX;
    if (motion.edges_known == 0) {
        if (motion.nudge_duty > 2000 * (int32_t)motor.friction_permille)
            rise *= 10;
    } else if (since_ms < 3 * edge_due_ms &&
               (motion.edges_known == 1 || motion.rate_mcps > gentle / 10 * 7)) {
        rise = 0;
    }
    if (motion.edges_known > 1 && motion.rate_mcps > gentle / 10 * 13 && since_ms < edge_due_ms)
        rise = -NUDGE_RISE_MAX / 2;
    motion.nudge_duty = clamp(motion.nudge_duty + rise * passed_ms, 0, NUDGE_DUTY_MAX);
    motion_drive(motion.nudge_duty, 0);
    if (motion.nudge_duty < NUDGE_DUTY_MAX)
        motion.saturated_ms = motion.now_ms;
    else if (motion.now_ms - motion.saturated_ms > STALL_MS)
        motion_trip(TRIP_STALLED);
}

static void step(const struct edges *now, uint16_t number, uint32_t edge_clock) {
    uint32_t passed_ms = motion.now_ms - motion.step_ms;
    if (number != 0)
        see(now, number, edge_clock);
    motion.way += (int64_t)motion.reference_mcps * (int32_t)(motion.clock - motion.step_clock);
    motion.step_clock = motion.clock;
    motion.step_ms = motion.now_ms;
    if (tracking())
        track(passed_ms, number == 0, edges_now().left);
    else if (motion.mode == MODE_NUDGE)
        nudge(passed_ms);
}

static void await_rest(void) {
    uint32_t quiet_ms = motion.now_ms - motion.quiet_ms, edge_ms = motion.now_ms - motion.edge_ms;
    if (quiet_ms < motion.rest_ms || edge_ms < motion.rest_ms)
        return;
    motion.rate_mcps = 0;
    if (motion.mode == MODE_COAST) {
        if (motion_to_stop() > 0)
            motion_begin_nudge();
        else
            motion_cut(true);
        return;
    }
    motion.mode = MODE_IDLE;
    motion.at_rest = true;
    uint8_t before = port_lock();
    edges.sense = 0;
    port_unlock(before);
}

/* The edge has cut the drive by itself; tell the loop. */
void motion_take_cut(void) {
    if (motion.mode != MODE_TRACK || motion.coast_counts == 0) {
        motion_cut(true);
        return;
    }
    uint8_t before = port_lock();
    edges.cut = false;
    port_unlock(before);
    motion.duty_permille = motion.brake_permille = 0;
    motion.quiet_ms = motion.now_ms;
    motion.mode = MODE_COAST;
}

static void wait_for_memory(void) {
    motion.waiting = kept_busy() || guide_busy();
    motion.step_ms = motion.quiet_ms = motion.saturated_ms = motion.now_ms;
    motion.step_clock = motion.clock;
    motion.way = 0;
}

static bool driving(void) {
    return motion.mode == MODE_TRACK || motion.mode == MODE_SLOW || motion.mode == MODE_NUDGE;
}

/* Where the spindle will be in a millisecond, in counts with 32 bits of fraction: the newest count, and on from its
 * edge by the time that has passed, but no farther than the next count (or than one millisecond takes). */
static int64_t spindle_ahead(const struct edges *now, uint16_t clock) {
    int64_t at = now->count * (INT64_C(1) << 32);
    if (motion.at_rest || motion.rate_mcps == 0 || motion.mode == MODE_SETTLE) /* cut: about to stand */
        return at;
    uint32_t since_ms = motion.now_ms - motion.edge_ms;
    uint32_t since = since_ms > 200 ? since_ms * TICKS_PER_MS : (uint16_t)(clock - now->clock);
    uint64_t a_ms = (uint64_t)(uint32_t)motion.rate_mcps * TICKS_PER_MS;
    uint64_t way = since > UINT32_C(1) << 24 ? COUNT_WAY : (uint32_t)motion.rate_mcps * (uint64_t)(since + TICKS_PER_MS);
    uint64_t most = a_ms > COUNT_WAY ? a_ms : COUNT_WAY;
    if (way > most)
        way = most;
    int64_t fraction = (int64_t)((way * ((INT64_C(1) << 40) / COUNT_WAY)) >> 8);
    return now->sense < 0 ? at + (INT64_C(1) << 32) - fraction : at + fraction; /* the count is the lower border */
}

void body_tick(uint32_t now_ms) {
    uint8_t before = port_lock();
    struct edges now = edges;
    uint16_t clock = port_clock();
    port_unlock(before);
    motion.clock += (uint16_t)(clock - (uint16_t)motion.clock);
    motion.now_ms = now_ms;
    uint16_t number = (uint16_t)(now.seen - motion.seen);
    uint32_t edge_clock = motion.clock - (uint16_t)(clock - now.clock);
    if (number != 0)
        motion.edge_ms = now_ms;
    if (now.cut)
        motion_take_cut();
    if (now.missed != motion.missed) { /* two counts that nobody knows of */
        motion.missed = now.missed;
        motion_trip(TRIP_SENSOR_IMPLAUSIBLE);
    }
    bool drives = driving();
    if (!drives) {
        if (number != 0)
            see(&now, number, edge_clock);
        motion.seen = now.seen;
        if (!motion.at_rest)
            await_rest();
    }
    if (!kept_busy())
        guide_tick(spindle_ahead(&now, clock)); /* after a rest has shown: at rest it stands where the count says */
    if (drives && motion.waiting) {
        wait_for_memory();
    } else if (drives && now_ms - motion.step_ms >= STEP_MS) {
        step(&now, number, edge_clock);
        motion.seen = now.seen;
    }
}

#endif
