/* The body of a board with a motor: its orders and its facts. The loop that drives it is in loop.c. */
#include "guide.h"
#include "loop.h"

#if CORE_MOTOR

#include <math.h>

#define REST_LEAST_MS 100.0f
#define REST_MOST_MS 3000.0f
#define CUT_PER_MS 1250.0f /* slowing down takes four fifths of the time until the cut */

/* --- orders ----------------------------------------------------------------------------------- */

/* Of what is given in thousandths. */
static float whole(uint32_t thousandths) {
    return (float)thousandths * 0.001f;
}

static void take_move(void) {
    const struct move *move = motion.move;
    motion.stop_at = motion.move_end;
    motion.coast_counts = 0;
    motion.accel = motion.stop_accel = whole(move->accel_mcps2);
    motion.top = whole(move->rate_mcps);
    motion.creep = most(sqrtf(motion.accel), whole(PROTOCOL_CREEP_RATE_LEAST_MCPS));
}

static void take_plan(void) {
    const struct plan *plan = motion.plan;
    int32_t count = edges_read(&edges.count);
    uint8_t here = 0;
    while (here < plan->legs - 1 && plan->leg[here].end_count <= count)
        here++;
    uint8_t stop = here;
    while (stop < plan->legs - 1 && plan->leg[stop].end_action == END_ACTION_CONTINUE)
        stop++;
    const struct msg_plan_leg *leg = &plan->leg[here], *last = &plan->leg[stop];
    motion.leg_end = leg->end_count;
    motion.stop_at = last->end_count;
    motion.coast_counts = last->coast_counts;
    motion.accel = whole(leg->accel_mcps2);
    motion.stop_accel = whole(last->accel_mcps2);
    float paced = whole(leg->rate_mcps) * (float)motion.pace_permille * 0.001f;
    motion.top = least(most(paced, whole(PROTOCOL_RATE_LEAST_MCPS)), guide_rate_most(leg));
    motion.creep = whole(last->creep_mcps);
}

/* Limits and the next stop, from where the count is now. */
void motion_take_leg(void) {
    if (motion.move != NULL)
        take_move();
    else
        take_plan();
    motion.creep = least(motion.top, motion.creep);
    float rest_ms = 1300.0f * sqrtf(2.0f / motion.stop_accel);
    motion.rest_ms = (uint16_t)least(most(rest_ms, REST_LEAST_MS), REST_MOST_MS);
}

/* A new run of the loop: nothing is known of the speed. */
static void begin(void) {
    motion.reference = motion.at_rest ? 0.0f : motion.rate;
    motion.way = motion.proportional = motion.integral = motion.boost = 0.0f;
    motion.slow_accel = motion.nudge_duty = 0.0f;
    motion.edges_known = 0;
    judge_begin(motion.reference);
    motion.trip = TRIP_NONE;
    motion.at_rest = false;
    motion.waiting = true;
    motion.quiet_ms = motion.saturated_ms = motion.step_ms = motion.now_ms;
    motion.mode = MODE_TRACK;
    motion_take_leg();
    int32_t left = motion_arm(motion.coast_counts);
    if (motion_to_stop() <= 0)
        motion_cut(true);
    else if (left <= 0)
        motion_begin_nudge();
}

static void obey_rest(void) {
    if (motion.mode == MODE_TRACK && !motion.waiting) {
        motion.mode = MODE_SLOW;
        motion_arm(0);
        if (motion.edges_known > 1)
            motion.reference = least(motion.reference, motion.rate);
        if (identity.cut_ms != 0)
            motion.slow_accel = most(motion.reference, motion.rate) * CUT_PER_MS / (float)identity.cut_ms;
    } else if (motion.mode != MODE_IDLE && motion.mode != MODE_SETTLE) {
        motion_cut(false);
    }
}

static void obey_off(void) {
    uint8_t before = port_lock();
    port_cut();
    edges.armed = edges.cut = false;
    edges.sense = 0;
    edges.reversed = motion.reversed;
    port_unlock(before);
    motion_drive_off();
    motion_drive(0.0f, 0.0f);
    port_contactor(true);
    if (motion.mode != MODE_IDLE) {
        motion.mode = MODE_IDLE;
        motion.quiet_ms = motion.now_ms;
    }
}

void body_obey(const struct drive *ask) {
    if (edges.cut)
        motion_take_cut();
    bool again = ask->order == ORDER_WIND && motion.order == ORDER_WIND && !motion.at_rest;
    if (again) { /* the same plan at another pace */
        motion.pace_permille = ask->pace_permille;
        motion_take_leg();
        return;
    }
    motion.arrived = false;
    motion.order = ask->order;
    motion.reversed = ask->reversed;
    switch (ask->order) {
    case ORDER_WIND:
        motion.plan = ask->plan;
        motion.move = NULL;
        motion.pace_permille = ask->pace_permille;
        guide_follow(ask->plan, edges_read(&edges.count));
        begin();
        break;
    case ORDER_MOVE:
        motion.move = ask->move;
        motion.move_end = (int32_t)((uint32_t)edges_read(&edges.count) + (uint32_t)ask->move->counts);
        guide_go_along();
        begin();
        break;
    case ORDER_REST:
        guide_end_step();
        obey_rest();
        break;
    case ORDER_CUT:
        motion_cut(false);
        guide_halt();
        break;
    case ORDER_ISOLATE: /* a shorted switch and a brake together would short the supply */
        port_contactor(false);
        motion_cut(false);
        motion.brake_asked = 0;
        motion_switch();
        guide_halt();
        break;
    default:
        obey_off();
        guide_halt();
    }
}

/* --- for the board ---------------------------------------------------------------------------- */

void body_boot(void) {
    memset(&motion, 0, sizeof motion);
    uint8_t before = port_lock();
    port_cut();
    memset((void *)&edges, 0, sizeof edges);
    memset((void *)&edges_past, 0, sizeof edges_past);
    motion.clock = port_clock();
    port_unlock(before);
    port_brake(0);
    port_contactor(true);
    guide_boot();
    known.full_rate = whole(settings.full_rate_mcps);
    known.full_accel = whole(settings.full_accel_mcps2);
    known.friction = whole(settings.friction_permille);
    known.brake = whole(settings.brake_permille);
    known.rate_max = whole(identity.rate_max_mcps);
    motion.rest_ms = 1000; /* whether the spindle turns is not known before it was silent for a while */
}

static int32_t signed_rate(void) {
    if (motion.at_rest || motion.rate == 0.0f)
        return 0;
    uint32_t since_ms = motion.now_ms - motion.edge_ms; /* a silence bounds it */
    float rate = motion.rate * 1000.0f;
    if (since_ms != 0)
        rate = least(rate, 1000000.0f / (float)since_ms);
    int32_t mcps = (int32_t)least(rate, 2.0e9f);
    return motion_sense() < 0 ? -mcps : mcps;
}

static uint8_t cause_now(void) {
    if (port_guard_open())
        return TRIP_GUARD_OPENED;
    if (!port_wire_present())
        return TRIP_WIRE_LOST;
    if (guide_at_limit())
        return TRIP_TRAVERSE_LIMIT;
    return motion.at_rest ? TRIP_NONE : motion.trip;
}

void body_facts(struct facts *facts) {
    memset(facts, 0, sizeof *facts);
    uint8_t before = port_lock();
    facts->count = edges.count;
    facts->unattributed = edges.unattributed;
    facts->implausible = edges.implausible;
    port_unlock(before);
    facts->rate_mcps = signed_rate();
    facts->at_rest = motion.at_rest;
    facts->arrived = motion.arrived;
    facts->guard_open = port_guard_open();
    facts->wire_present = port_wire_present();
#if CORE_PEDAL
    facts->stop_pressed = port_stop_pressed();
    facts->pedal_pressed = port_pedal_pressed();
#endif
    guide_facts(facts);
    facts->brake_on = motion.brake_permille != 0;
    facts->trip = cause_now();
}

void body_open_wind(uint32_t wind) {
    (void)wind; /* the board gives it with every record */
    uint8_t before = port_lock();
    edges.count = 0;
    edges.unattributed = edges.implausible = 0;
    port_unlock(before);
    guide_forget();
}

void body_close_wind(void) {
    guide_forget();
}

void body_new_plan(void) {
    guide_forget();
}

void body_mark_traverse(uint8_t side, int32_t at_um) {
    guide_mark(side, at_um);
}

void body_step_traverse(int32_t distance_um) {
    guide_step(distance_um);
}

#if CORE_FAR
void body_lead_far(const struct far *ask) {
    guide_lead_far(ask);
}
#endif

void body_keep(const struct kept_record *record) {
    kept_write(record);
}

void body_keep_motion(bool moving) {
    kept_set_motion(moving);
}

bool body_kept_motion(void) {
    return kept_motion();
}

void body_kept(struct kept_record *record) {
    kept_read(record);
}

#endif
