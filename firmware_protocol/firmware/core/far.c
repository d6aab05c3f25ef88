#include "far.h"

#include "device.h"

#if CORE_FAR

#define FAR_MAX_UM INT32_C(1000000)

bool far_unknown(uint8_t kind) {
    bool far = kind == KIND_TRAVERSE_HOME || kind == KIND_TRAVERSE_MOVE;
    return far && identity.groups[GROUP_TRAVERSE - 1] < 2;
}

static uint8_t bad(uint8_t field) {
    device.detail = field;
    return VERDICT_BAD_VALUE;
}

uint8_t far_command(bool home, const uint8_t *payload) {
    struct far ask = {
        .home = home,
        .um = (int32_t)get_u32(payload + MSG_TRAVERSE_HOME_AT_UM_AT),
        .rate_um_s = get_u32(payload + MSG_TRAVERSE_HOME_RATE_UM_S_AT),
        .accel_um_s2 = get_u32(payload + MSG_TRAVERSE_HOME_ACCEL_UM_S2_AT),
    };
    if (ask.um < -FAR_MAX_UM || ask.um > FAR_MAX_UM || (!home && ask.um == 0))
        return bad(4);
    if (ask.rate_um_s == 0)
        return bad(5);
    if (ask.accel_um_s2 == 0)
        return bad(6);
    uint8_t hindered = command_hindrance();
    if (hindered != VERDICT_DONE)
        return hindered;
    if (!home && !board.referenced)
        return VERDICT_NOT_REFERENCED;
    board_depart(HAPPENING_MOVE_BEGUN, board.state, false);
    board.referenced = false;
    body_lead_far(&ask);
    board.far = home ? FAR_HOMES : FAR_MOVES;
    return VERDICT_DONE;
}
_Static_assert((int)MSG_TRAVERSE_HOME_AT_UM_AT == (int)MSG_TRAVERSE_MOVE_DISTANCE_UM_AT &&
                   (int)MSG_TRAVERSE_HOME_BYTES == (int)MSG_TRAVERSE_MOVE_BYTES, "one layout");

void far_forget(void) {
    board.far = FAR_NONE;
}

void far_tripped(uint8_t cause) {
    board.far = FAR_NONE;
    if (cause == TRIP_TRAVERSE_LIMIT && identity.groups[GROUP_TRAVERSE - 1] > 1)
        board.referenced = false; /* it met the switch where none should be */
}

void far_rested(void) {
    if (board.far == FAR_MOVES || (board.far == FAR_HOMES && board.reason == REASON_MOVE_DONE))
        board.referenced = true;
    board.far = FAR_NONE;
}

#endif
