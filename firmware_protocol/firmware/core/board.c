#include "board.h"

#include "far.h"
#include "pedal.h"

struct board board;

struct passage {
    uint8_t state, happening, after;
};

#define X(state, happening, after) {state, happening, after},
static const PORT_FLASH struct passage passages[] = {BOARD_TABLE(X)};
#undef X

static void happen(uint8_t happening) {
    for (uint8_t i = 0; i < sizeof passages / sizeof passages[0]; i++) {
        if (PORT_FLASH_U8(&passages[i].state) == board.state &&
            PORT_FLASH_U8(&passages[i].happening) == happening) {
            board.state = PORT_FLASH_U8(&passages[i].after);
            break;
        }
    }
    board.revision++;
}

bool board_in_motion(void) {
    return board.state == STATE_WINDING || board.state == STATE_SLOWING || board.state == STATE_SETTING_UP;
}

uint32_t board_uptime_ms(void) {
    return board.now_ms - board.booted_ms;
}

static bool has_plan(void) {
#if CORE_MOTOR
    return plan_in_force()->legs != 0;
#else
    return false;
#endif
}

uint8_t board_leg(void) {
#if CORE_MOTOR
    const struct plan *plan = plan_in_force();
    for (uint8_t i = 0; i < plan->legs; i++)
        if (plan->leg[i].end_count > board.facts.count)
            return i;
#endif
    return PROTOCOL_NO_LEG;
}

#if CORE_MOTOR

#define BACK_TO_NONE 255 /* no state: the motion is winding */

static void obey(uint8_t order) {
    bool winding = board.back_to == BACK_TO_NONE;
    struct drive drive = {.order = order, .pace_permille = board.pace_permille};
    if (winding && (order == ORDER_WIND || order == ORDER_REST))
        drive.plan = plan_in_force();
    if (plan_in_force()->legs)
        drive.reversed = plan_in_force()->leg[0].spindle < 0;
    if (board.by_move && (order == ORDER_MOVE || order == ORDER_REST))
        drive.move = &board.move;
    body_obey(&drive);
}

/* What drives nothing has nothing to latch. */
static bool has_motor(void) {
    return identity.groups[GROUP_MOTOR - 1] > 0;
}

/* The drive itself is not to be trusted. */
static bool isolates(uint8_t trip) {
    return trip == TRIP_NOT_STOPPED || trip == TRIP_TURNED_UNDRIVEN;
}

/* A rest was seen. A count that the sensor made doubtful must not look like one vouched for by it. */
static void keep(void) {
    board.rest_seen = true;
    body_keep_motion(false);
    if (board.wind == PROTOCOL_NO_WIND)
        return;
    struct kept_record record = {
        .wind = board.wind,
        .count = board.facts.count,
        .valid = true,
        .at_rest = board.trip != TRIP_SENSOR_IMPLAUSIBLE && board.trip != TRIP_TURNED_UNDRIVEN,
    };
    body_keep(&record);
}

static void slow(uint8_t happening, uint8_t reason) {
    board.reason = reason;
#if CORE_PEDAL
    pedal.winds = false;
    if (reason != REASON_PEDAL_RELEASED) /* it stays armed over a rest of its own, and over no other */
        pedal_disarm();
#endif
    happen(happening);
    board.slow_ms = board.now_ms;
    board.drive_cut = happening == HAPPENING_ARRIVED;
    if (happening != HAPPENING_ARRIVED) /* else the body has ended its order by itself */
        obey(ORDER_REST);
}

static uint8_t happening_back_to(uint8_t state) {
    switch (state) {
    case STATE_ARMED: return HAPPENING_BACK_TO_ARMED;
    case STATE_PAUSED: return HAPPENING_BACK_TO_PAUSED;
    case STATE_COMPLETE: return HAPPENING_BACK_TO_COMPLETE;
    default: return HAPPENING_BACK_TO_STILL;
    }
}

static void rest(void) {
    if (board.back_to != BACK_TO_NONE) {
        happen(happening_back_to(board.back_to));
    } else {
        happen(board_leg() == PROTOCOL_NO_LEG ? HAPPENING_RESTED_AT_END : HAPPENING_RESTED_SHORT);
    }
    if (board.state != STATE_PAUSED)
        pedal_disarm();
    obey(ORDER_OFF);
    keep();
    far_rested();
}

static uint8_t cause_of_trip(void) {
    if (board.facts.guard_open)
        return TRIP_GUARD_OPENED;
#if CORE_PEDAL
    if (board.facts.stop_pressed)
        return TRIP_STOP_PRESSED;
#endif
    if (board.facts.trip == TRIP_WIRE_LOST && board.back_to != BACK_TO_NONE)
        return TRIP_NONE; /* moves at the bench are made without wire */
    return board.facts.trip;
}

static void trip(uint8_t cause) {
    obey(isolates(cause) ? ORDER_ISOLATE : ORDER_CUT); /* first of all */
    pedal_disarm();
    far_tripped(cause);
    board.trip = cause;
    board.reason = REASON_TRIP;
    board.slow_ms = board.now_ms;
    board.rest_seen = false;
    happen(HAPPENING_TRIP);
}

static uint8_t reason_of_arrival(void) {
    if (board.back_to != BACK_TO_NONE)
        return REASON_MOVE_DONE;
    return board.stop_leg == plan_in_force()->legs - 1 ? REASON_TARGET : REASON_LEG_PAUSE;
}

/* It is on its way to rest for so long, if that time is told. */
static bool since_slow(uint16_t told_ms) {
    return told_ms != 0 && board.now_ms - board.slow_ms >= told_ms;
}

static void look_at_slowing(void) {
    if (board.facts.at_rest) {
        rest();
    } else if (since_slow(identity.rest_ms)) {
        trip(TRIP_NOT_STOPPED);
    } else if (since_slow(identity.cut_ms) && !board.drive_cut) {
        board.drive_cut = true;
        far_forget();
        obey(ORDER_CUT);
    }
}

static void look_in_motion(bool lease_live) {
    uint8_t cause = cause_of_trip();
    if (cause != TRIP_NONE) {
        trip(cause);
        return;
    }
    if (board.state != STATE_SLOWING) {
        if (board.facts.arrived)
            slow(HAPPENING_ARRIVED, reason_of_arrival());
        else if (!lease_live)
            slow(HAPPENING_LEASE_ENDED, REASON_LEASE_LOST);
#if CORE_PEDAL
        else if (pedal_let_go())
            slow(HAPPENING_STOPPED, REASON_PEDAL_RELEASED);
#endif
    }
    if (board.state == STATE_SLOWING)
        look_at_slowing();
}

static void look_at_rest(void) {
    if (!has_motor())
        return;
    bool trusted = !isolates(board.trip);
    if (trusted && isolates(board.facts.trip)) {
        trip(board.facts.trip);
    } else if (board.state == STATE_TRIPPED && !board.rest_seen) {
        if (board.facts.at_rest)
            keep();
        else if (trusted && since_slow(identity.rest_ms))
            trip(TRIP_NOT_STOPPED);
    }
#if CORE_PEDAL
    else {
        pedal_look();
    }
#endif
}

#endif /* CORE_MOTOR */

void board_boot(uint32_t now_ms, bool by_watchdog) {
    memset(&board, 0, sizeof board);
    board.now_ms = board.booted_ms = now_ms;
#if CORE_MOTOR
    bool remembered = body_kept_motion();
    if ((by_watchdog || remembered) && has_motor()) {
        board.state = STATE_TRIPPED;
        board.reason = REASON_TRIP;
        board.trip = by_watchdog ? TRIP_WATCHDOG : TRIP_RESET_IN_MOTION;
    }
#if CORE_PEDAL
    pedal_boot(now_ms);
#endif
    board.slow_ms = now_ms;
    board.drive_cut = true;
    board.pace_permille = PACE_FULL_PERMILLE;
    board.back_to = BACK_TO_NONE;
    board.stop_leg = PROTOCOL_NO_LEG;
    board.rest_seen = true;
    obey(ORDER_OFF);
#else
    (void)by_watchdog;
#endif
    body_facts(&board.facts);
}

void board_look(uint32_t now_ms, bool lease_live) {
    board.now_ms = now_ms;
    body_facts(&board.facts);
#if CORE_PEDAL
    pedal_see(board.facts.pedal_pressed, now_ms);
    if (!lease_live || board.facts.stop_pressed)
        pedal_disarm();
#endif
#if CORE_MOTOR
    if (board_in_motion())
        look_in_motion(lease_live);
    else
        look_at_rest();
#else
    (void)lease_live;
#endif
    if (board.target != 0 && !has_plan() && board.facts.count >= board.target)
        board.target = 0;
}

/* --- effects of commands that were found good ------------------------------------------------ */

static void forget_plan(void) {
    pedal_disarm();
#if CORE_MOTOR
    plan_in_force()->legs = 0;
    plan_in_force()->generation = 0;
    board.begun = false;
    board.legs_to_load = 0;
#endif
    board.target = 0;
}

void board_stop(void) {
    pedal_disarm();
#if CORE_MOTOR
    if (board.state == STATE_WINDING || board.state == STATE_SETTING_UP)
        slow(HAPPENING_STOPPED, REASON_STOP);
#endif
}

/* The drive goes off now; a motion that was slowing goes on with its reason. */
void board_cut(void) {
    pedal_disarm();
#if CORE_MOTOR
    if (!board_in_motion())
        return;
    board.drive_cut = true;
    far_forget();
    obey(ORDER_CUT);
    if (board.state != STATE_SLOWING) {
        board.reason = REASON_STOP;
        board.slow_ms = board.now_ms;
        happen(HAPPENING_STOPPED);
    }
#endif
}

void board_open_wind(uint32_t wind) {
    body_open_wind(wind);
    body_facts(&board.facts);
    forget_plan();
    board.wind = wind;
#if CORE_MOTOR
    board.pace_permille = PACE_FULL_PERMILLE;
#endif
    happen(HAPPENING_WIND_OPENED);
}

void board_close_wind(void) {
    body_close_wind();
    forget_plan();
    board.wind = PROTOCOL_NO_WIND;
    happen(HAPPENING_WIND_CLOSED);
}

#if CORE_MOTOR

void board_put_plan_in_force(void) {
    board.in_force ^= 1u;
    board.legs_to_load = 0;
    pedal_disarm();
    body_new_plan();
    happen(HAPPENING_PLAN_IN_FORCE);
}

/* Takes back AT_REST of the kept record before anything moves, so that a reset in motion shows. */
void board_depart(uint8_t happening, uint8_t back_to, bool by_move) {
    struct kept_record kept;
    pedal_disarm();
    body_kept(&kept);
    if (kept.valid && kept.at_rest) {
        kept.at_rest = false;
        body_keep(&kept);
    }
    body_keep_motion(true);
    board.back_to = back_to;
    board.by_move = by_move;
    board.rest_seen = false;
    happen(happening);
}

static uint8_t stop_leg_from(uint8_t leg) {
    while (plan_in_force()->leg[leg].end_action == END_ACTION_CONTINUE)
        leg++;
    return leg;
}

void board_start(void) {
    board.stop_leg = stop_leg_from(board_leg());
    board_depart(HAPPENING_STARTED, BACK_TO_NONE, false);
    board.begun = true;
    obey(ORDER_WIND);
}

void board_set_pace(uint16_t permille) {
    board.pace_permille = permille;
    if (board.state == STATE_WINDING)
        obey(ORDER_WIND);
}

void board_begin_move(const struct move *move) {
    board.move = *move;
    board_depart(HAPPENING_MOVE_BEGUN, board.state, true);
    obey(ORDER_MOVE);
}

void board_begin_traverse_step(int32_t distance_um) {
    board_depart(HAPPENING_MOVE_BEGUN, board.state, false);
    body_step_traverse(distance_um);
}

void board_mark_traverse(uint8_t side, int32_t at_um) {
    body_mark_traverse(side, at_um);
    if (side == SIDE_LEFT)
        board.referenced = true;
}

void board_clear_trip(void) {
    uint8_t happening;
    if (!has_plan())
        happening = HAPPENING_CLEARED_WITHOUT_PLAN;
    else if (!board.begun)
        happening = HAPPENING_CLEARED_UNBEGUN;
    else
        happening = board_leg() == PROTOCOL_NO_LEG ? HAPPENING_CLEARED_AT_END : HAPPENING_CLEARED_SHORT;
    happen(happening);
    board.trip = TRIP_NONE;
    board.reason = REASON_CLEARED;
    body_keep_motion(false);
    obey(ORDER_OFF);
}

#endif
