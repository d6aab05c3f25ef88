#include "pedal.h"

#include "board.h"

#if CORE_PEDAL

struct pedal pedal;

void pedal_boot(uint32_t now_ms) {
    memset(&pedal, 0, sizeof pedal);
    pedal.pressed = pedal.level = true;
    pedal.agreed_ms = now_ms;
}

void pedal_see(bool level, uint32_t now_ms) {
    pedal.level = level;
    if (level == pedal.pressed) {
        pedal.agreed_ms = now_ms;
    } else if (now_ms - pedal.agreed_ms >= PROTOCOL_PEDAL_SETTLE_MS) {
        pedal.pressed = level;
        pedal.agreed_ms = now_ms;
    }
}

void pedal_arm(void) {
    pedal.armed = true;
    pedal.winds = pedal.release_seen = false;
}

void pedal_disarm(void) {
    pedal.armed = pedal.winds = pedal.release_seen = false;
}

void pedal_begin(void) {
    pedal.armed = pedal.winds = true;
    pedal.release_seen = false;
}

static bool goes(bool hindered) {
    if (hindered || !pedal.armed)
        pedal.release_seen = false;
    else if (!pedal.pressed && !pedal.level)
        pedal.release_seen = true;
    return pedal.release_seen && pedal.pressed;
}

bool pedal_let_go(void) {
    return pedal.winds && !pedal.pressed;
}

void pedal_look(void) {
    const struct facts *facts = &board.facts;
    bool hindered = facts->guard_open || !facts->wire_present || board_leg() == PROTOCOL_NO_LEG;
    if (goes(hindered)) {
        board_start();
        pedal_begin();
    }
}

uint8_t pedal_flags(void) {
    return (uint8_t)((pedal.armed ? PEDAL_FLAG_ARMED : 0) | (pedal.release_seen ? PEDAL_FLAG_RELEASE_SEEN : 0) |
                     (pedal.pressed ? PEDAL_FLAG_PRESSED : 0));
}

#endif
