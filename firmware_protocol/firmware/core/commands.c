/* What each numbered command needs, and what it brings about; device_commands.py in C.
 *
 * Values are judged in the order of the payload, then conditions in the order of the verdicts. Places of bad
 * fields are the indices of specification section 19. A refusal changes nothing.
 */
#include "device.h"
#include "far.h"
#include "frame.h"
#include "pedal.h"
#include "settings.h"

#define PACE_LEAST_PERMILLE 100
#define TRAVERSE_STEP_MAX_UM INT32_C(100000)

static uint8_t bad(uint8_t field) {
    device.detail = field;
    return VERDICT_BAD_VALUE;
}

static uint8_t open_wind(const uint8_t *payload) {
    uint32_t wind = get_u32(payload + MSG_OPEN_WIND_WIND_AT);
    if (wind == PROTOCOL_NO_WIND)
        return bad(3);
    board_open_wind(wind);
    return VERDICT_DONE;
}

static uint8_t set_target(const uint8_t *payload) {
    int32_t count = (int32_t)get_u32(payload + MSG_SET_TARGET_COUNT_AT);
    if (count < 1 || count > PROTOCOL_COUNT_MAX)
        return bad(4);
    if (get_u32(payload + MSG_SET_TARGET_WARN_BEFORE_AT) > (uint32_t)count)
        return bad(5);
    board.target = count;
    return VERDICT_DONE;
}

static uint8_t close_wind(void) {
    board_close_wind();
    return VERDICT_DONE;
}

/* It is kept behind the answer (core.c). */
static uint8_t write_settings(const uint8_t *payload) {
    uint8_t fault = settings_fault(payload);
    if (fault != SETTINGS_GOOD)
        return bad(fault);
    device.renews = true;
    return VERDICT_DONE;
}

#if CORE_MOTOR

static uint8_t clear_trip(const uint8_t *payload) {
    const struct facts *facts = &board.facts;
    if (payload[MSG_CLEAR_TRIP_TRIP_AT] != board.trip)
        return bad(4);
    if (!facts->at_rest || facts->trip == board.trip ||
        (board.trip == TRIP_GUARD_OPENED && facts->guard_open) ||
        (board.trip == TRIP_WIRE_LOST && !facts->wire_present))
        return VERDICT_CAUSE_REMAINS;
#if CORE_PEDAL
    if (board.trip == TRIP_STOP_PRESSED && facts->stop_pressed)
        return VERDICT_CAUSE_REMAINS;
#endif
    board_clear_trip();
    return VERDICT_DONE;
}

/* What keeps anything at all from moving; DONE if nothing does. */
uint8_t command_hindrance(void) {
    if (!device.lease_live)
        return VERDICT_NO_LEASE;
#if CORE_PEDAL
    if (board.facts.stop_pressed && !board.facts.guard_open)
        return VERDICT_STOP_PRESSED;
#endif
    return board.facts.guard_open ? VERDICT_GUARD_OPEN : VERDICT_DONE;
}

static bool plan_has_pitch(void) {
    const struct plan *plan = plan_in_force();
    for (uint8_t i = 0; i < plan->legs; i++)
        if (plan->leg[i].pitch_nm != 0)
            return true;
    return false;
}

static uint8_t start(const uint8_t *payload) {
    if (board_leg() == PROTOCOL_NO_LEG)
        return VERDICT_WRONG_STATE;
    if (payload[MSG_START_GENERATION_AT] != plan_in_force()->generation)
        return bad(4);
    uint8_t hindered = command_hindrance();
    if (hindered != VERDICT_DONE)
        return hindered;
    if (!board.facts.wire_present)
        return VERDICT_WIRE_LOST;
    if (!board.referenced && plan_has_pitch())
        return VERDICT_NOT_REFERENCED;
#if CORE_PEDAL
    if (device.last_kind == KIND_ARM_PEDAL) { /* the same, but the pedal starts */
        pedal_arm();
        return VERDICT_DONE;
    }
#endif
    board_start();
    return VERDICT_DONE;
}

static bool move_end_fits(int32_t counts) {
    int32_t count = board.facts.count;
    uint32_t from = (uint32_t)count + (UINT32_C(1) << 31); /* the least number is nought */
    uint32_t end = from + (uint32_t)counts;
    bool wraps = (counts < 0) != (end < from);
    return !wraps && end - PROTOCOL_COUNT_MAX <= 2u * (uint32_t)PROTOCOL_COUNT_MAX;
}

static uint8_t move(const uint8_t *payload) {
    struct move ask = {
        .counts = (int32_t)get_u32(payload + MSG_MOVE_COUNTS_AT),
        .rate_mcps = get_u32(payload + MSG_MOVE_RATE_MCPS_AT),
        .accel_mcps2 = get_u32(payload + MSG_MOVE_ACCEL_MCPS2_AT),
    };
    if (ask.counts == 0 || !move_end_fits(ask.counts))
        return bad(4);
    if (ask.rate_mcps < PROTOCOL_RATE_LEAST_MCPS || ask.rate_mcps > identity.rate_max_mcps)
        return bad(5);
    if (ask.accel_mcps2 == 0)
        return bad(6);
    uint8_t hindered = command_hindrance();
    if (hindered != VERDICT_DONE)
        return hindered;
    board_begin_move(&ask);
    return VERDICT_DONE;
}

static uint8_t pace(const uint8_t *payload) {
    uint16_t permille = get_u16(payload + MSG_PACE_PERMILLE_AT);
    if (permille < PACE_LEAST_PERMILLE || permille > PACE_FULL_PERMILLE)
        return bad(4);
    board_set_pace(permille);
    return VERDICT_DONE;
}

static uint8_t traverse_step(const uint8_t *payload) {
    int32_t distance_um = (int32_t)get_u32(payload + MSG_TRAVERSE_STEP_DISTANCE_UM_AT);
    if (distance_um == 0 || distance_um > TRAVERSE_STEP_MAX_UM || distance_um < -TRAVERSE_STEP_MAX_UM)
        return bad(4);
    uint8_t hindered = command_hindrance();
    if (hindered != VERDICT_DONE)
        return hindered;
    board_begin_traverse_step(distance_um);
    return VERDICT_DONE;
}

static uint8_t traverse_mark(const uint8_t *payload) {
    uint8_t side = payload[MSG_TRAVERSE_MARK_SIDE_AT];
    int32_t at_um = (int32_t)get_u32(payload + MSG_TRAVERSE_MARK_AT_UM_AT);
    if (side != SIDE_LEFT && side != SIDE_RIGHT)
        return bad(4);
    if (at_um < 0 || (side == SIDE_LEFT) != (at_um == 0))
        return bad(5);
    if (side == SIDE_RIGHT && !board.referenced)
        return VERDICT_NOT_REFERENCED;
    board_mark_traverse(side, at_um);
    return VERDICT_DONE;
}

static uint8_t plan_begin(const uint8_t *payload) {
    uint8_t generation = payload[MSG_PLAN_BEGIN_GENERATION_AT];
    uint8_t legs = payload[MSG_PLAN_BEGIN_LEGS_AT];
    if (generation == 0 || generation == plan_in_force()->generation)
        return bad(4);
    if (legs == 0 || legs > identity.legs_max || legs > CORE_LEGS_MAX)
        return bad(5);
    plan_loading()->generation = generation;
    plan_loading()->legs = 0;
    board.legs_to_load = legs;
    board.loading_checksum = CRC32_START;
    board.loading_end = 0;
    return VERDICT_DONE;
}

#define LEG_IS_GOOD 255

/* The index of the first field behind the leg's own, in the order of the payload, that cannot be. */
static uint8_t leg_fault(const struct msg_plan_leg *leg) {
    bool last = leg->index == board.legs_to_load - 1;
    uint32_t creep_least_mcps = PROTOCOL_CREEP_RATE_LEAST_MCPS;
    if (leg->rate_mcps < creep_least_mcps) /* slower only where the whole leg is */
        creep_least_mcps = leg->rate_mcps;
    if (leg->end_action > END_ACTION_COMPLETE || (leg->end_action == END_ACTION_COMPLETE) != last)
        return 3;
    if ((leg->spindle != 1 && leg->spindle != -1) || leg->spindle != plan_loading()->leg[0].spindle)
        return 4;
    if (leg->end_count <= board.loading_end || leg->end_count > PROTOCOL_COUNT_MAX)
        return 5;
    if (leg->rate_mcps < PROTOCOL_RATE_LEAST_MCPS || leg->rate_mcps > identity.rate_max_mcps)
        return 6;
    if (leg->accel_mcps2 == 0)
        return 7;
    if (leg->creep_mcps < creep_least_mcps || leg->creep_mcps > leg->rate_mcps)
        return 8;
    if (leg->pitch_nm != 0 && !speaks(GROUP_TRAVERSE))
        return 10;
    if (leg->pitch_counts == 0)
        return 11;
    if (leg->left_um > leg->right_um)
        return 13;
    return LEG_IS_GOOD;
}

/* It is read into its place, and belongs to the plan once it was found good. */
static uint8_t plan_leg(const uint8_t *payload) {
    struct plan *plan = plan_loading();
    if (board.legs_to_load == 0)
        return VERDICT_PLAN_INCOMPLETE;
    if (payload[MSG_PLAN_LEG_GENERATION_AT] != plan->generation)
        return bad(1);
    if (payload[MSG_PLAN_LEG_INDEX_AT] != plan->legs || plan->legs >= board.legs_to_load)
        return bad(2);
    msg_plan_leg_read(&plan->leg[plan->legs], payload);
    uint8_t fault = leg_fault(&plan->leg[plan->legs]);
    if (fault != LEG_IS_GOOD)
        return bad(fault);
    board.loading_end = plan->leg[plan->legs++].end_count;
    board.loading_checksum = crc32(board.loading_checksum, payload + MSG_PLAN_LEG_GENERATION_AT,
                                   MSG_PLAN_LEG_BYTES - MSG_PLAN_LEG_GENERATION_AT);
    return VERDICT_DONE;
}

static uint8_t plan_commit(const uint8_t *payload) {
    uint8_t legs = board.legs_to_load;
    if (legs != 0 && payload[MSG_PLAN_COMMIT_GENERATION_AT] != plan_loading()->generation)
        return bad(4);
    if (legs == 0 || plan_loading()->legs != legs)
        return VERDICT_PLAN_INCOMPLETE;
    if (get_u32(payload + MSG_PLAN_COMMIT_CHECKSUM_AT) != board.loading_checksum) {
        device.detail = board.loading_checksum;
        return VERDICT_WRONG_CHECKSUM;
    }
    board_put_plan_in_force();
    return VERDICT_DONE;
}

#endif /* CORE_MOTOR */

uint8_t command_carry_out(uint8_t kind, const uint8_t *payload) {
    switch (kind) {
    case KIND_OPEN_WIND: return open_wind(payload);
    case KIND_SET_TARGET: return set_target(payload);
    case KIND_CLOSE_WIND: return close_wind();
    case KIND_SETTLE_NUMBER: return VERDICT_DONE;
    case KIND_WRITE_SETTINGS: return write_settings(payload);
#if CORE_MOTOR
    case KIND_CLEAR_TRIP: return clear_trip(payload);
    case KIND_START: return start(payload);
    case KIND_MOVE: return move(payload);
    case KIND_PACE: return pace(payload);
    case KIND_TRAVERSE_STEP: return traverse_step(payload);
    case KIND_TRAVERSE_MARK: return traverse_mark(payload);
    case KIND_PLAN_BEGIN: return plan_begin(payload);
    case KIND_PLAN_LEG: return plan_leg(payload);
    case KIND_PLAN_COMMIT: return plan_commit(payload);
#endif
#if CORE_PEDAL
    case KIND_ARM_PEDAL: return start(payload);
        _Static_assert((int)MSG_ARM_PEDAL_GENERATION_AT == (int)MSG_START_GENERATION_AT, "a start's content");
#endif
#if CORE_FAR
    case KIND_TRAVERSE_HOME: return far_command(true, payload);
    case KIND_TRAVERSE_MOVE: return far_command(false, payload);
#endif
    default: return VERDICT_WRONG_STATE;
    }
}
