/* The body of a board with a motor: its orders and its facts. The loop that drives it is in loop.c. */
#include "guide.h"
#include "loop.h"

#if CORE_MOTOR

#define REST_LEAST_MS 100
#define REST_MOST_MS 3000

/* --- orders ----------------------------------------------------------------------------------- */

static int32_t speed(uint32_t mcps) {
    uint32_t most = motor.full_rate_mcps < SPEED_MAX ? motor.full_rate_mcps : SPEED_MAX;
    return (int32_t)(mcps < most ? mcps : most);
}

static int32_t accel(uint32_t mcps2) {
    return (int32_t)(mcps2 < ACCEL_MAX ? mcps2 : ACCEL_MAX);
}

static void take_move(void) {
    const struct move *move = motion.move;
    motion.stop_at = motion.move_end;
    motion.coast_counts = 0;
    motion.accel_mcps2 = motion.stop_accel_mcps2 = accel(move->accel_mcps2);
    motion.top_mcps = speed(move->rate_mcps);
    int32_t creep = root((uint64_t)motion.accel_mcps2 * 1000u);
    if (creep < PROTOCOL_CREEP_RATE_LEAST_MCPS)
        creep = PROTOCOL_CREEP_RATE_LEAST_MCPS;
    motion.creep_mcps = least(motion.top_mcps, creep);
}

static void take_plan(void) {
    const struct plan *plan = motion.plan;
    int32_t count = edges_now().count;
    uint8_t here = 0;
    while (here < plan->legs - 1 && plan->leg[here].end_count <= count)
        here++;
    uint8_t stop = here;
    while (stop < plan->legs - 1 && plan->leg[stop].end_action == END_ACTION_CONTINUE)
        stop++;
    const struct leg *leg = &plan->leg[here], *last = &plan->leg[stop];
    motion.leg_end = leg->end_count;
    motion.stop_at = last->end_count;
    motion.coast_counts = last->coast_counts;
    motion.accel_mcps2 = accel(leg->accel_mcps2);
    motion.stop_accel_mcps2 = accel(last->accel_mcps2);
    int32_t rate = speed(leg->rate_mcps);
    int32_t paced = (int32_t)((int64_t)rate * motion.pace_permille / 1000);
    int32_t slowest = least(rate, PROTOCOL_CREEP_RATE_LEAST_MCPS);
    motion.top_mcps = least(paced > slowest ? paced : slowest, speed(guide_rate_most(leg)));
    motion.creep_mcps = least(motion.top_mcps, speed(last->creep_mcps));
}

/* Limits and the next stop, from where the count is now. */
void motion_take_leg(void) {
    if (motion.move != NULL)
        take_move();
    else
        take_plan();
    uint64_t top = (uint64_t)motion.top_mcps * (uint64_t)motion.top_mcps;
    uint64_t creep = (uint64_t)motion.creep_mcps * (uint64_t)motion.creep_mcps;
    uint64_t slow = (top - creep) / (2u * (uint64_t)motion.stop_accel_mcps2) + 1u;
    motion.slow_mcounts = slow > UINT32_MAX ? UINT32_MAX : (uint32_t)slow;
    int32_t rest = root(UINT64_C(3380000000) / (uint32_t)motion.stop_accel_mcps2); /* 1.3 s sqrt(2 / a) */
    motion.rest_ms = (uint16_t)clamp(rest, REST_LEAST_MS, REST_MOST_MS);
}

/* A new run of the loop: nothing is known of the speed. */
static void forget(void) {
    motion.reference_mcps = motion.at_rest ? 0 : motion.rate_mcps;
    motion.way = 0;
    motion.edges_known = 0;
    motion.stretch = 0;
    motion.proportional_mcps2 = motion.integral_mcps = motion.boost = motion.nudge_duty = 0;
}

static void begin(void) {
    forget();
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
    if (motion.mode == MODE_TRACK) {
        motion.mode = MODE_SLOW;
        motion_arm(0);
        if (motion.edges_known > 1)
            motion.reference_mcps = least(motion.reference_mcps, motion.rate_mcps);
    } else if (motion.mode == MODE_COAST || motion.mode == MODE_NUDGE) {
        motion_cut(false);
    }
}

static void obey_off(void) {
    uint8_t before = port_lock();
    port_cut(false);
    edges.armed = edges.cut = false;
    edges.sense = 0;
    edges.reversed = motion.reversed;
    port_unlock(before);
    motion.duty_permille = motion.brake_permille = 0;
    port_brake(0);
    if (motion.mode != MODE_IDLE) {
        motion.mode = MODE_IDLE;
        motion.quiet_ms = motion.now_ms;
    }
}

void body_obey(const struct drive *ask) {
    if (edges_now().cut)
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
        guide_follow(ask->plan, edges_now().count);
        begin();
        break;
    case ORDER_MOVE:
        motion.move = ask->move;
        motion.move_end = (int32_t)((uint32_t)edges_now().count + (uint32_t)ask->move->counts);
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
    default:
        obey_off();
        guide_halt();
    }
}

/* --- for the board ---------------------------------------------------------------------------- */

void body_boot(void) {
    memset(&motion, 0, sizeof motion);
    uint8_t before = port_lock();
    port_cut(false);
    memset((void *)&edges, 0, sizeof edges);
    motion.clock = port_clock();
    port_unlock(before);
    port_brake(0);
    guide_boot();
    motion.rest_ms = 1000; /* whether the spindle turns is not known before it was silent for a while */
}

static int32_t signed_rate(void) {
    if (motion.at_rest || motion.rate_mcps == 0)
        return 0;
    uint32_t since_ms = motion.now_ms - motion.edge_ms; /* a silence bounds it */
    int32_t rate = motion.rate_mcps;
    if (since_ms != 0)
        rate = least(rate, (int32_t)(1000000u / since_ms));
    return rate * motion_sense();
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
    struct edges now = edges_now();
    memset(facts, 0, sizeof *facts);
    facts->count = now.count;
    facts->unattributed = now.unattributed;
    facts->rate_mcps = signed_rate();
    facts->at_rest = motion.at_rest;
    facts->arrived = motion.arrived;
    facts->guard_open = port_guard_open();
    facts->wire_present = port_wire_present();
    guide_facts(facts);
    facts->brake_on = motion.brake_permille != 0;
    facts->trip = cause_now();
}

void body_open_wind(uint32_t wind) {
    (void)wind; /* the board gives it with every record */
    uint8_t before = port_lock();
    edges.count = 0;
    edges.unattributed = 0;
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

void body_keep(const struct kept_record *record) {
    kept_write(record);
}

void body_kept(struct kept_record *record) {
    kept_read(record);
}

#endif
