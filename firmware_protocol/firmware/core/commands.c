/* What each numbered command needs, and what it brings about; device_commands.py in C.
 *
 * Values are judged in the order of the payload, then conditions in the order of the verdicts. Places of bad
 * fields are the indices of specification section 19. A refusal changes nothing.
 */
#include "device.h"
#include "frame.h"

#define PACE_LEAST_PERMILLE 100
#define TRAVERSE_STEP_MAX_UM INT32_C(100000)

static struct outcome verdict(uint8_t word) {
    struct outcome outcome = {.verdict = word};
    return outcome;
}

static struct outcome bad(uint8_t field) {
    struct outcome outcome = {.verdict = VERDICT_BAD_VALUE, .detail = field};
    return outcome;
}

static struct outcome done(void) {
    return verdict(VERDICT_DONE);
}

static struct outcome open_wind(const uint8_t *payload) {
    uint32_t wind = get_u32(payload + MSG_OPEN_WIND_WIND_AT);
    if (wind == PROTOCOL_NO_WIND)
        return bad(3);
    board_open_wind(wind);
    return done();
}

static struct outcome set_target(const uint8_t *payload) {
    int32_t count = (int32_t)get_u32(payload + MSG_SET_TARGET_COUNT_AT);
    if (count < 1 || count > PROTOCOL_COUNT_MAX)
        return bad(4);
    if (get_u32(payload + MSG_SET_TARGET_WARN_BEFORE_AT) > (uint32_t)count)
        return bad(5);
    board.target = count;
    return done();
}

static struct outcome close_wind(void) {
    board_close_wind();
    return done();
}

#if CORE_MOTOR

static struct outcome clear_trip(const uint8_t *payload) {
    const struct facts *facts = &board.facts;
    if (payload[MSG_CLEAR_TRIP_TRIP_AT] != board.trip)
        return bad(4);
    if (!facts->at_rest || facts->trip == board.trip ||
        (board.trip == TRIP_GUARD_OPENED && facts->guard_open) ||
        (board.trip == TRIP_WIRE_LOST && !facts->wire_present))
        return verdict(VERDICT_CAUSE_REMAINS);
    board_clear_trip();
    return done();
}

/* What keeps anything at all from moving; DONE if nothing does. */
static uint8_t hindrance(void) {
    if (!device.lease_live)
        return VERDICT_NO_LEASE;
    return board.facts.guard_open ? VERDICT_GUARD_OPEN : VERDICT_DONE;
}

static bool plan_has_pitch(void) {
    const struct plan *plan = plan_in_force();
    for (uint8_t i = 0; i < plan->legs; i++)
        if (plan->leg[i].pitch_nm != 0)
            return true;
    return false;
}

static struct outcome start(const uint8_t *payload) {
    if (board_leg() == PROTOCOL_NO_LEG)
        return verdict(VERDICT_WRONG_STATE);
    if (payload[MSG_START_GENERATION_AT] != plan_in_force()->generation)
        return bad(4);
    uint8_t hindered = hindrance();
    if (hindered != VERDICT_DONE)
        return verdict(hindered);
    if (!board.facts.wire_present)
        return verdict(VERDICT_WIRE_LOST);
    if (!board.referenced && plan_has_pitch())
        return verdict(VERDICT_NOT_REFERENCED);
    board_start();
    return done();
}

static bool move_end_fits(int32_t counts) {
    int64_t end = (int64_t)board.facts.count + counts;
    return end >= -PROTOCOL_COUNT_MAX && end <= PROTOCOL_COUNT_MAX;
}

static struct outcome move(const uint8_t *payload) {
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
    uint8_t hindered = hindrance();
    if (hindered != VERDICT_DONE)
        return verdict(hindered);
    board_begin_move(&ask);
    return done();
}

static struct outcome pace(const uint8_t *payload) {
    uint16_t permille = get_u16(payload + MSG_PACE_PERMILLE_AT);
    if (permille < PACE_LEAST_PERMILLE || permille > PACE_FULL_PERMILLE)
        return bad(4);
    board_set_pace(permille);
    return done();
}

static struct outcome traverse_step(const uint8_t *payload) {
    int32_t distance_um = (int32_t)get_u32(payload + MSG_TRAVERSE_STEP_DISTANCE_UM_AT);
    if (distance_um == 0 || distance_um > TRAVERSE_STEP_MAX_UM || distance_um < -TRAVERSE_STEP_MAX_UM)
        return bad(4);
    uint8_t hindered = hindrance();
    if (hindered != VERDICT_DONE)
        return verdict(hindered);
    board_begin_traverse_step(distance_um);
    return done();
}

static struct outcome traverse_mark(const uint8_t *payload) {
    uint8_t side = payload[MSG_TRAVERSE_MARK_SIDE_AT];
    int32_t at_um = (int32_t)get_u32(payload + MSG_TRAVERSE_MARK_AT_UM_AT);
    if (side != SIDE_LEFT && side != SIDE_RIGHT)
        return bad(4);
    if (at_um < 0 || (side == SIDE_LEFT) != (at_um == 0))
        return bad(5);
    if (side == SIDE_RIGHT && !board.referenced)
        return verdict(VERDICT_NOT_REFERENCED);
    board_mark_traverse(side, at_um);
    return done();
}

static struct outcome plan_begin(const uint8_t *payload) {
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
    return done();
}

#define LEG_IS_GOOD 255

/* The index of the first field, in the order of the payload, that cannot be. */
static uint8_t leg_fault(const struct msg_plan_leg *leg) {
    const struct plan *plan = plan_loading();
    const struct leg *before = plan->legs ? &plan->leg[plan->legs - 1] : NULL;
    bool last = leg->index == board.legs_to_load - 1;
    uint32_t creep_least_mcps = PROTOCOL_CREEP_RATE_LEAST_MCPS;
    if (leg->rate_mcps < creep_least_mcps) /* slower only where the whole leg is */
        creep_least_mcps = leg->rate_mcps;
    if (leg->generation != plan->generation)
        return 1;
    if (leg->index != plan->legs || plan->legs >= board.legs_to_load)
        return 2;
    if (leg->end_action > END_ACTION_COMPLETE || (leg->end_action == END_ACTION_COMPLETE) != last)
        return 3;
    if ((leg->spindle != 1 && leg->spindle != -1) || (before && leg->spindle != plan->spindle))
        return 4;
    if (leg->end_count <= (before ? before->end_count : 0) || leg->end_count > PROTOCOL_COUNT_MAX)
        return 5;
    if (leg->rate_mcps < PROTOCOL_RATE_LEAST_MCPS || leg->rate_mcps > identity.rate_max_mcps)
        return 6;
    if (leg->accel_mcps2 == 0)
        return 7;
    if (leg->creep_mcps < creep_least_mcps || leg->creep_mcps > leg->rate_mcps)
        return 8;
    if (leg->pitch_nm != 0 && identity.groups[GROUP_TRAVERSE - 1] == 0)
        return 10;
    if (leg->pitch_counts == 0)
        return 11;
    if (leg->left_um > leg->right_um)
        return 13;
    return LEG_IS_GOOD;
}

static struct outcome plan_leg(const uint8_t *payload) {
    struct msg_plan_leg ask;
    if (board.legs_to_load == 0)
        return verdict(VERDICT_PLAN_INCOMPLETE);
    msg_plan_leg_read(&ask, payload);
    uint8_t fault = leg_fault(&ask);
    if (fault != LEG_IS_GOOD)
        return bad(fault);
    struct plan *plan = plan_loading();
    struct leg *leg = &plan->leg[plan->legs++];
    leg->end_action = ask.end_action;
    plan->spindle = ask.spindle;
    leg->end_count = ask.end_count;
    leg->rate_mcps = ask.rate_mcps;
    leg->accel_mcps2 = ask.accel_mcps2;
    leg->creep_mcps = ask.creep_mcps;
    leg->coast_counts = ask.coast_counts;
    leg->pitch_nm = ask.pitch_nm;
    leg->pitch_counts = ask.pitch_counts;
    leg->left_um = ask.left_um;
    leg->right_um = ask.right_um;
    leg->dwell_counts = ask.dwell_counts;
    leg->scatter_seed = ask.scatter_seed;
    board.loading_checksum = crc32(board.loading_checksum, payload + MSG_PLAN_LEG_GENERATION_AT,
                                   MSG_PLAN_LEG_BYTES - MSG_PLAN_LEG_GENERATION_AT);
    return done();
}

static struct outcome plan_commit(const uint8_t *payload) {
    uint8_t legs = board.legs_to_load;
    if (legs != 0 && payload[MSG_PLAN_COMMIT_GENERATION_AT] != plan_loading()->generation)
        return bad(4);
    if (legs == 0 || plan_loading()->legs != legs)
        return verdict(VERDICT_PLAN_INCOMPLETE);
    if (get_u32(payload + MSG_PLAN_COMMIT_CHECKSUM_AT) != board.loading_checksum) {
        struct outcome outcome = verdict(VERDICT_WRONG_CHECKSUM);
        outcome.detail = board.loading_checksum;
        return outcome;
    }
    board_put_plan_in_force();
    return done();
}

#endif /* CORE_MOTOR */

struct outcome command_carry_out(uint8_t kind, const uint8_t *payload) {
    switch (kind) {
    case KIND_OPEN_WIND: return open_wind(payload);
    case KIND_SET_TARGET: return set_target(payload);
    case KIND_CLOSE_WIND: return close_wind();
    case KIND_SETTLE_NUMBER: return done();
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
    default: return verdict(VERDICT_WRONG_STATE);
    }
}
