/* The control loop of a board with a motor: it sees edges and the time, nothing else.
 *
 * Speed is the mean between the newest edges of two steps of the loop; the reference speed is averaged over
 * the very same stretch, so that few edges make the loop slow but never wrong. Duty is what the set-up learned
 * of the motor plus a proportional-integral correction. Before a stop the reference follows
 * v = sqrt(creep^2 + 2 a s) of the counts s that are left, creeps over the last of them, and the edge itself
 * cuts the drive (edges.h). A leg with coast_counts is cut that early, coasts to rest and gets one gentle nudge:
 * a duty that rises slowly from below friction until the target edge is seen.
 */
#include "guide.h"
#include "loop.h"

#include <math.h>

#if CORE_MOTOR

#define TICKS_PER_MS (PORT_CLOCK_HZ / 1000)
#define SILENT_S 0.5f         /* then push harder */
#define STALL_MS 1000         /* at full duty without an edge */
#define BOOST_PER_S 0.2f      /* duty added while no edge comes */
#define CREEP_SETTLE_S 0.25f  /* at creep speed before a stop */
#define INTEGRAL_PER_S 3.0f
#define INTEGRAL_MOST 0.35f   /* of one error, however old it is */
#define CORRECTION_PER_S 12.0f
#define CORRECTION_MOST 0.3f  /* of one error; edges far apart weaken the correction */
#define NUDGE_RISE_MAX 0.02f  /* duty a second */
#define NUDGE_DUTY_MAX 0.6f
#define DOUBT_MOST 8          /* edges that are not believed, */
#define DOUBT_EDGES 32        /* while so many are */
#define RECENT_TICKS (PORT_CLOCK_HZ / 10)
#define BELIEVED_TICKS (PORT_CLOCK_HZ / 400) /* an edge that has lasted so long is no disturbance */

/* --- what the edges tell ---------------------------------------------------------------------- */

/* Speed error over the newest stretch. */
static void correct(float error, float stretch_s) {
    bool held = (motion.duty_permille >= 1000 && error > 0.0f) ||
                (error < 0.0f && motion.duty_permille == 0 &&
                 (settings.brake_permille == 0 || motion.brake_permille >= 1000));
    if (!held)
        motion.integral += error * least(INTEGRAL_PER_S * stretch_s, INTEGRAL_MOST);
    motion.proportional = error * least(CORRECTION_PER_S, CORRECTION_MOST / stretch_s);
    motion.integral += motion.boost * known.full_rate * 0.5f;
    motion.boost = 0.0f;
}

static bool tracking(void) {
    return motion.mode == MODE_TRACK || motion.mode == MODE_SLOW;
}

static float seconds(uint32_t from, uint32_t to) {
    return (float)(int32_t)(to - from) * TICK_S;
}

static void see(const struct edges *now, uint16_t number, uint32_t edge_clock) {
    if (motion.order == ORDER_OFF || motion.order == ORDER_ISOLATE) {
        if (motion.at_rest && judge_turns_undriven(number, edge_clock)) {
            motion.trip = TRIP_TURNED_UNDRIVEN;
            motion.at_rest = false;
            motion.quiet_ms = motion.now_ms;
        }
    } else if (motion.mode == MODE_SETTLE && judge_does_not_fall(number, edge_clock)) {
        motion_trip(TRIP_NOT_STOPPED);
    }
    float way = motion.way + motion.reference * seconds(motion.step_clock, edge_clock);
    if (motion.edges_known) {
        float stretch_s = most(seconds(motion.edge_clock, edge_clock), TICK_S);
        float rate = (float)number / stretch_s;
        if (tracking()) {
            correct(way / stretch_s - rate, stretch_s);
            uint8_t cause = judge_edges(number, stretch_s, rate);
            if (cause != TRIP_NONE)
                motion_trip(cause);
        }
        motion.rate = rate;
    }
    if (motion.mode == MODE_NUDGE)
        judge_begin(motion.edges_known ? motion.rate : 0.0f);
    motion.edges_known = (uint8_t)(number > 3 || motion.edges_known + number > 3 ? 3 : motion.edges_known + number);
    motion.edge_clock = edge_clock;
    motion.way = -motion.reference * seconds(motion.step_clock, edge_clock);
    bool in_plan = tracking() && motion.move == NULL;
    if (in_plan && now->count >= motion.leg_end && now->count < motion.stop_at)
        motion_take_leg();
}

void motion_begin_nudge(void) {
    motion.mode = MODE_NUDGE;
    motion.edges_known = 0;
    motion.quiet_ms = motion.saturated_ms = motion.now_ms;
    float learned = most(known.friction + motion.integral / known.full_rate, 0.0f);
    motion.nudge_duty = 0.6f * least(known.friction, learned);
    judge_begin(0.0f);
    motion_arm(0);
    motion_drive(0.0f, 0.0f);
}

/* --- the step --------------------------------------------------------------------------------- */

static float next_reference(float passed_s, int32_t left) {
    float reference = motion.reference;
    if (motion.mode == MODE_SLOW)
        return reference - most(motion.accel, motion.slow_accel) * passed_s;
    float change = motion.accel * passed_s, top = motion.top;
    float wanted = reference < top ? least(reference + change, top) : most(reference - change, top);
    float gone = motion.edges_known ? least(reference * seconds(motion.edge_clock, motion.clock), 1.0f) : 0.0f;
    float to_creep = (float)left - gone - (motion.creep * CREEP_SETTLE_S + 1.0f);
    if (to_creep <= 0.0f)
        return least(wanted, motion.creep);
    return least(wanted, sqrtf(motion.creep * motion.creep + 2.0f * motion.stop_accel * to_creep));
}

static bool is_too_silent(float passed_s) {
    uint8_t cause = judge_silence(seconds(motion.edge_clock, motion.clock), passed_s);
    if (cause == TRIP_NONE)
        return false;
    motion_trip(edges.turns != motion.turns ? TRIP_SENSOR_IMPLAUSIBLE : cause); /* it does turn */
    return true;
}

/* No edge in this step: push harder when one is overdue, trip when none can be explained. */
static bool hear_silence(float passed_s) {
    float since_s = (float)(motion.now_ms - (motion.edges_known ? motion.edge_ms : motion.quiet_ms)) * 0.001f;
    float late = motion.way - 1.0f;
    if (motion.edges_known && late > 0.5f && since_s > 0.0f)
        motion.proportional = late / since_s * least(CORRECTION_PER_S, CORRECTION_MOST / since_s);
    if (is_too_silent(passed_s))
        return true;
    if (late > 1.5f && since_s > SILENT_S)
        motion.boost = least(motion.boost + BOOST_PER_S * passed_s, 1.0f);
    if (motion.duty_permille < 1000) {
        motion.saturated_ms = motion.now_ms;
    } else if (motion.now_ms - motion.saturated_ms > STALL_MS && since_s > STALL_MS * 0.001f) {
        motion_trip(TRIP_STALLED);
        return true;
    }
    return false;
}

static void track(float passed_s, bool quiet, int32_t left) {
    float reference = next_reference(passed_s, left);
    if (motion.mode == MODE_SLOW && reference <= motion.creep) {
        motion_cut(false);
        return;
    }
    float hardest = most(most(motion.accel, motion.stop_accel), motion.slow_accel);
    float slope = least(most((reference - motion.reference) / passed_s, -hardest), hardest);
    motion.reference = reference;
    if (quiet && hear_silence(passed_s))
        return;
    float torque = known.friction + (slope + motion.proportional) / known.full_accel +
                   motion.integral / known.full_rate + motion.boost;
    if (torque < 0.0f && settings.brake_permille != 0) {
        motion_drive(0.0f, -torque * 1000.0f / (float)settings.brake_permille);
        return;
    }
    float duty = torque + reference / known.full_rate;
    if (motion.edges_known < 3) /* not more than the highest speed needs */
        duty = least(duty, known.friction + known.rate_max / known.full_rate);
    motion_drive(duty, 0.0f);
}

/* Duty rises until an edge is seen at a gentle speed; the target edge itself cuts the drive. */
static void nudge(float passed_s) {
    float gentle = sqrtf(0.6f * motion.stop_accel);
    float rise = least(0.25f * motion.stop_accel / known.full_rate, NUDGE_RISE_MAX);
    float since_s = (float)(motion.now_ms - motion.edge_ms) * 0.001f;
    if (is_too_silent(passed_s))
        return;
    if (motion.edges_known == 0) {
        if (motion.nudge_duty > 2.0f * known.friction)
            rise *= 10.0f;
    } else if (since_s * gentle < 3.0f && (motion.edges_known == 1 || motion.rate > 0.7f * gentle)) {
        rise = 0.0f;
    }
    if (motion.edges_known > 1 && motion.rate > 1.3f * gentle && since_s * gentle < 1.0f)
        rise = -0.5f * NUDGE_RISE_MAX;
    motion.nudge_duty = least(most(motion.nudge_duty + rise * passed_s, 0.0f), NUDGE_DUTY_MAX);
    motion_drive(motion.nudge_duty, 0.0f);
    if (motion.nudge_duty < NUDGE_DUTY_MAX)
        motion.saturated_ms = motion.now_ms;
    else if (motion.now_ms - motion.saturated_ms > STALL_MS)
        motion_trip(TRIP_STALLED);
}

static void step(const struct edges *now, uint16_t number, uint32_t edge_clock) {
    float passed_s = (float)(motion.now_ms - motion.step_ms) * 0.001f;
    if (number != 0)
        see(now, number, edge_clock);
    motion.way += motion.reference * seconds(motion.step_clock, motion.clock);
    motion.step_clock = motion.clock;
    motion.step_ms = motion.now_ms;
    if (tracking())
        track(passed_s, number == 0, edges_read(&edges.left));
    else if (motion.mode == MODE_NUDGE)
        nudge(passed_s);
}

static void await_rest(void) {
    if (motion.mode == MODE_COAST && motion_to_stop() <= 0)
        motion_cut(true); /* it coasted as far as it was to: now the brake */
    uint32_t quiet_ms = motion.now_ms - motion.quiet_ms, edge_ms = motion.now_ms - motion.edge_ms;
    if (quiet_ms < motion.rest_ms || edge_ms < motion.rest_ms)
        return;
    motion.rate = 0.0f;
    if (motion.mode == MODE_COAST) {
        motion_begin_nudge();
        return;
    }
    motion.mode = MODE_IDLE;
    motion.at_rest = true;
    judge_settling();
    uint8_t before = port_lock();
    edges.sense = 0;
    port_unlock(before);
}

/* The edge has cut the drive by itself; tell the loop. */
void motion_take_cut(void) {
    motion_drive_off();
    if (motion.mode != MODE_TRACK || motion.coast_counts == 0) {
        motion_cut(true);
        return;
    }
    uint8_t before = port_lock();
    edges.cut = false;
    port_unlock(before);
    motion.brake_asked = 0;
    motion.quiet_ms = motion.now_ms;
    motion.mode = MODE_COAST;
}

static void wait_for_memory(void) {
    motion.waiting = kept_busy() || guide_busy();
    motion.step_ms = motion.quiet_ms = motion.saturated_ms = motion.now_ms;
    motion.step_clock = motion.clock;
    motion.way = 0.0f;
}

static bool driving(void) {
    return motion.mode == MODE_TRACK || motion.mode == MODE_SLOW || motion.mode == MODE_NUDGE;
}

/* Where the spindle will be in a millisecond, in counts with 32 bits of fraction: the newest count, and on from its
 * edge by the time that has passed, but no farther than the next count (or than one millisecond takes). */
static int64_t spindle_ahead(const struct edges *now, uint16_t clock) {
    int64_t at = now->count * (INT64_C(1) << 32);
    if (motion.at_rest || motion.rate == 0.0f || motion.mode == MODE_SETTLE) /* cut: about to stand */
        return at;
    uint32_t since_ms = motion.now_ms - motion.edge_ms;
    uint32_t since = since_ms > 200 ? since_ms * TICKS_PER_MS : (uint16_t)(clock - now->clock);
    float way = motion.rate * TICK_S * (float)(since + TICKS_PER_MS);
    way = least(way, most(motion.rate * 0.001f, 1.0f));
    uint32_t whole = (uint32_t)way;
    uint32_t rest = (uint32_t)((way - (float)whole) * 16777216.0f) << 8; /* 24 bits are good */
    int64_t fraction = (int64_t)whole << 32 | rest;
    return now->sense < 0 ? at + (INT64_C(1) << 32) - fraction : at + fraction; /* the count is the lower border */
}

/* Of two channels the newest edge is believed when it has lasted: a disturbance takes it back. */
static void leave_out_newest(struct edges *now, uint16_t clock) {
    if (!PORT_DIRECTION_SENSE || now->back || (uint16_t)(clock - now->clock) >= BELIEVED_TICKS)
        return;
    now->clock = now->before;
    now->seen--;
}

static void drive_on(struct edges *now, uint16_t clock) {
    if (motion.waiting) {
        wait_for_memory();
        return;
    }
    if (motion.now_ms - motion.step_ms < STEP_MS)
        return;
    leave_out_newest(now, clock);
    int16_t number = (int16_t)(now->seen - motion.seen);
    if (number > 0) {
        motion.seen = now->seen;
        motion.turns = now->turns;
    }
    step(now, number > 0 ? (uint16_t)number : 0, motion.clock - (uint16_t)(clock - now->clock));
}

/* Edges that are not believed come one by one; a sensor that gives many of them is not what it was. What came at rest
 * or in another wind, whose number began at nought, is not held against it. */
static bool is_doubtful(uint8_t number, bool tracks) {
    static struct { uint8_t seen, told; } doubted; /* when it was begun to look at them */
    uint8_t told = (uint8_t)edges.implausible;
    if (!tracks || (uint8_t)(number - doubted.seen) >= DOUBT_EDGES) {
        doubted.seen = number;
        doubted.told = told;
    }
    return (uint8_t)(told - doubted.told) > DOUBT_MOST;
}

void body_tick(uint32_t now_ms) {
    uint8_t before = port_lock();
    edges_age(RECENT_TICKS);
    struct edges now;
    memcpy(&now, (const void *)&edges, offsetof(struct edges, armed));
    uint16_t clock = port_edge_clock();
    port_unlock(before);
    motion.clock += (uint16_t)(clock - (uint16_t)motion.clock);
    motion.now_ms = now_ms;
    int16_t number = (int16_t)(now.seen - motion.seen);
    if (number > 0 || (number != 0 && !driving()))
        motion.edge_ms = now_ms;
    if (now.cut)
        motion_take_cut();
    /* Two counts that nobody knows of, two against the drive, or too many that are not believed. */
    bool tracks = tracking();
    if (is_doubtful((uint8_t)now.seen, tracks) || now.missed != motion.missed || (now.backward != motion.backward && tracks))
        motion_trip(TRIP_SENSOR_IMPLAUSIBLE);
    motion.missed = now.missed;
    motion.backward = now.backward;
    motion_switch();
    bool drives = driving();
    if (!drives) {
        if (number > 0)
            see(&now, (uint16_t)number, motion.clock - (uint16_t)(clock - now.clock));
        motion.seen = now.seen;
        if (!motion.at_rest)
            await_rest();
    }
    if (!kept_busy())
        guide_tick(spindle_ahead(&now, clock)); /* after a rest has shown: at rest it stands where the count says */
    if (drives)
        drive_on(&now, clock);
}

#endif
