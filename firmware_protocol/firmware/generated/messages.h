/* What goes over the wire between the host and a board that counts.
 *
 * Derived from firmware_protocol/messages.py by `python -m firmware_protocol.generate`.
 * Change it there, not here.
 */
#ifndef FIRMWARE_PROTOCOL_MESSAGES_H
#define FIRMWARE_PROTOCOL_MESSAGES_H

#include <stdint.h>
#include <string.h>

#define FRAME_BYTES_MAX 64
#define PAYLOAD_BYTES_MAX 56

#define PROTOCOL_BASE_VERSION 1
#define PROTOCOL_STATUS_PERIOD_MS 50
#define PROTOCOL_ALIVE_PERIOD_MS 200
#define PROTOCOL_LEASE_MS 1000
#define PROTOCOL_ANSWER_WAIT_MS 200
#define PROTOCOL_SENDINGS_MAX 10
#define PROTOCOL_STOP_REPEAT_MS 100
#define PROTOCOL_WELCOME_WAIT_MS 3000
#define PROTOCOL_COUNT_MAX INT32_C(1073741824)
#define PROTOCOL_LEGS_MAX_LEAST 8
#define PROTOCOL_RATE_LEAST_MCPS 1000
#define PROTOCOL_CREEP_RATE_LEAST_MCPS 4000
#define PROTOCOL_PEDAL_SETTLE_MS 20
#define PROTOCOL_NO_LEG 255
#define PROTOCOL_NO_WIND 0

/* Kinds: the first byte of a frame; the board's have the highest bit set. */
enum {
    KIND_HELLO = 0x01,
    KIND_ALIVE = 0x02,
    KIND_STOP = 0x03,
    KIND_OPEN_WIND = 0x10,
    KIND_SET_TARGET = 0x11,
    KIND_CLOSE_WIND = 0x12,
    KIND_SETTLE_NUMBER = 0x13,
    KIND_CLEAR_TRIP = 0x14,
    KIND_START = 0x20,
    KIND_MOVE = 0x21,
    KIND_PACE = 0x22,
    KIND_CUT = 0x23,
    KIND_TRAVERSE_STEP = 0x30,
    KIND_TRAVERSE_MARK = 0x31,
    KIND_TRAVERSE_HOME = 0x32,
    KIND_TRAVERSE_MOVE = 0x33,
    KIND_PLAN_BEGIN = 0x40,
    KIND_PLAN_LEG = 0x41,
    KIND_PLAN_COMMIT = 0x42,
    KIND_ARM_PEDAL = 0x50,
    KIND_READ_SETTINGS = 0x60,
    KIND_WRITE_SETTINGS = 0x61,
    KIND_WELCOME = 0x81,
    KIND_STATUS = 0x82,
    KIND_ANSWER = 0x83,
    KIND_PEDAL_STATUS = 0xD0,
    KIND_SETTINGS = 0xE0,
};

/* Group */
enum {
    GROUP_BASE = 0,
    GROUP_COUNTING = 1,
    GROUP_MOTOR = 2,
    GROUP_TRAVERSE = 3,
    GROUP_LEGS = 4,
    GROUP_PEDAL = 5,
    GROUP_SETTINGS = 6,
};

/* State */
enum {
    STATE_STILL = 0,
    STATE_ARMED = 1,
    STATE_WINDING = 2,
    STATE_SLOWING = 3,
    STATE_PAUSED = 4,
    STATE_COMPLETE = 5,
    STATE_TRIPPED = 6,
    STATE_SETTING_UP = 7,
};

/* Reason */
enum {
    REASON_NONE = 0,
    REASON_STOP = 1,
    REASON_LEASE_LOST = 2,
    REASON_LEG_PAUSE = 3,
    REASON_TARGET = 4,
    REASON_MOVE_DONE = 5,
    REASON_TRIP = 6,
    REASON_CLEARED = 7,
    REASON_PEDAL_RELEASED = 8,
};

/* Trip */
enum {
    TRIP_NONE = 0,
    TRIP_WIRE_LOST = 1,
    TRIP_GUARD_OPENED = 2,
    TRIP_OVERSPEED = 3,
    TRIP_SENSOR_IMPLAUSIBLE = 4,
    TRIP_STALLED = 5,
    TRIP_TRAVERSE_LIMIT = 6,
    TRIP_WATCHDOG = 7,
    TRIP_NOT_STOPPED = 8,
    TRIP_TURNED_UNDRIVEN = 9,
    TRIP_RESET_IN_MOTION = 10,
    TRIP_STOP_PRESSED = 11,
};

/* Verdict */
enum {
    VERDICT_DONE = 0,
    VERDICT_UNSUPPORTED = 1,
    VERDICT_NO_SESSION = 2,
    VERDICT_HELD = 3,
    VERDICT_CONFLICT = 4,
    VERDICT_STALE = 5,
    VERDICT_WRONG_STATE = 6,
    VERDICT_BAD_VALUE = 7,
    VERDICT_NO_LEASE = 8,
    VERDICT_GUARD_OPEN = 9,
    VERDICT_WIRE_LOST = 10,
    VERDICT_NOT_REFERENCED = 11,
    VERDICT_PLAN_INCOMPLETE = 12,
    VERDICT_WRONG_CHECKSUM = 13,
    VERDICT_CAUSE_REMAINS = 14,
    VERDICT_MALFORMED = 15,
    VERDICT_STOP_PRESSED = 16,
};

/* EndAction */
enum {
    END_ACTION_CONTINUE = 0,
    END_ACTION_PAUSE = 1,
    END_ACTION_COMPLETE = 2,
};

/* Side */
enum {
    SIDE_LEFT = 0,
    SIDE_RIGHT = 1,
};

/* Flag */
enum {
    FLAG_LEASE_LIVE = 0x01,
    FLAG_DRIVEN = 0x02,
    FLAG_GUARD_OPEN = 0x04,
    FLAG_WIRE_PRESENT = 0x08,
    FLAG_REFERENCED = 0x10,
    FLAG_TRAVERSE_RIGHTWARD = 0x20,
    FLAG_BRAKE_ON = 0x40,
    FLAG_STOP_PRESSED = 0x80,
};

/* Has */
enum {
    HAS_DIRECTION_SENSE = 0x01,
    HAS_BRAKE = 0x02,
    HAS_GUARD = 0x04,
    HAS_WIRE_SENSOR = 0x08,
    HAS_PEDAL = 0x10,
    HAS_STOP_INPUT = 0x20,
    HAS_LIMIT_SWITCH = 0x40,
};

/* PedalFlag */
enum {
    PEDAL_FLAG_ARMED = 0x01,
    PEDAL_FLAG_RELEASE_SEEN = 0x02,
    PEDAL_FLAG_PRESSED = 0x04,
};

/* Kept */
enum {
    KEPT_VALID = 0x01,
    KEPT_AT_REST = 0x02,
};

/* Sensor */
enum {
    SENSOR_FOUR_EDGES = 0,
    SENSOR_TWO_EDGES = 1,
    SENSOR_ONE_PULSE = 2,
};

/* Driver */
enum {
    DRIVER_NONE = 0,
    DRIVER_ENABLE_AND_DIRECTION = 1,
};

/* LineSpeed */
enum {
    LINE_SPEED_FAST = 0,
    LINE_SPEED_SLOW = 1,
};

/* Wired */
enum {
    WIRED_GUARD = 0x01,
    WIRED_WIRE_SENSOR = 0x02,
    WIRED_PEDAL = 0x04,
    WIRED_STOP_INPUT = 0x08,
    WIRED_LIMIT_SWITCH = 0x10,
};

/* Low */
enum {
    LOW_ENABLE = 0x01,
    LOW_DUTY = 0x02,
    LOW_BRAKE = 0x04,
    LOW_BACKWARD = 0x08,
    LOW_CONTACTOR = 0x10,
};

/* What a command carries behind its token, to be compared with what is so. */
enum {
    BELIEF_NONE = 0,
    BELIEF_BOOT_REVISION = 1,
    BELIEF_BOOT_WIND_REVISION = 2,
};

/* The wind that a command needs. */
enum {
    WIND_ANY = 0,
    WIND_OPEN = 1,
    WIND_NONE = 2,
};

/* Numbered commands: X(kind, least payload bytes, group, states that allow it as bits, belief, wind needed). */
#define NUMBERED_COMMANDS(X) \
    X(KIND_OPEN_WIND, MSG_OPEN_WIND_BYTES, GROUP_COUNTING, 0x01, BELIEF_BOOT_REVISION, WIND_NONE) \
    X(KIND_SET_TARGET, MSG_SET_TARGET_BYTES, GROUP_COUNTING, 0xFF, BELIEF_BOOT_WIND_REVISION, WIND_OPEN) \
    X(KIND_CLOSE_WIND, MSG_CLOSE_WIND_BYTES, GROUP_COUNTING, 0x33, BELIEF_BOOT_WIND_REVISION, WIND_OPEN) \
    X(KIND_SETTLE_NUMBER, MSG_SETTLE_NUMBER_BYTES, GROUP_COUNTING, 0xFF, BELIEF_NONE, WIND_ANY) \
    X(KIND_CLEAR_TRIP, MSG_CLEAR_TRIP_BYTES, GROUP_COUNTING, 0x40, BELIEF_BOOT_WIND_REVISION, WIND_ANY) \
    X(KIND_START, MSG_START_BYTES, GROUP_MOTOR, 0x12, BELIEF_BOOT_WIND_REVISION, WIND_ANY) \
    X(KIND_MOVE, MSG_MOVE_BYTES, GROUP_MOTOR, 0x33, BELIEF_BOOT_WIND_REVISION, WIND_ANY) \
    X(KIND_PACE, MSG_PACE_BYTES, GROUP_MOTOR, 0x16, BELIEF_BOOT_WIND_REVISION, WIND_ANY) \
    X(KIND_TRAVERSE_STEP, MSG_TRAVERSE_STEP_BYTES, GROUP_TRAVERSE, 0x33, BELIEF_BOOT_WIND_REVISION, WIND_ANY) \
    X(KIND_TRAVERSE_MARK, MSG_TRAVERSE_MARK_BYTES, GROUP_TRAVERSE, 0x33, BELIEF_BOOT_WIND_REVISION, WIND_ANY) \
    X(KIND_PLAN_BEGIN, MSG_PLAN_BEGIN_BYTES, GROUP_LEGS, 0x33, BELIEF_BOOT_WIND_REVISION, WIND_OPEN) \
    X(KIND_PLAN_LEG, MSG_PLAN_LEG_BYTES, GROUP_LEGS, 0x33, BELIEF_NONE, WIND_OPEN) \
    X(KIND_PLAN_COMMIT, MSG_PLAN_COMMIT_BYTES, GROUP_LEGS, 0x33, BELIEF_BOOT_WIND_REVISION, WIND_OPEN) \
    X(KIND_WRITE_SETTINGS, MSG_WRITE_SETTINGS_BYTES, GROUP_SETTINGS, 0x01, BELIEF_BOOT_REVISION, WIND_NONE)

/* Numbered commands: X(kind, least payload bytes, group, states that allow it as bits, belief, wind needed). */
#define PEDAL_COMMANDS(X) \
    X(KIND_ARM_PEDAL, MSG_ARM_PEDAL_BYTES, GROUP_PEDAL, 0x12, BELIEF_BOOT_WIND_REVISION, WIND_ANY)

/* Numbered commands: X(kind, least payload bytes, group, states that allow it as bits, belief, wind needed). */
#define FAR_COMMANDS(X) \
    X(KIND_TRAVERSE_HOME, MSG_TRAVERSE_HOME_BYTES, GROUP_TRAVERSE, 0x33, BELIEF_BOOT_WIND_REVISION, WIND_ANY) \
    X(KIND_TRAVERSE_MOVE, MSG_TRAVERSE_MOVE_BYTES, GROUP_TRAVERSE, 0x33, BELIEF_BOOT_WIND_REVISION, WIND_ANY)

/* What can befall a board. */
enum {
    HAPPENING_WIND_OPENED = 0,
    HAPPENING_WIND_CLOSED = 1,
    HAPPENING_PLAN_IN_FORCE = 2,
    HAPPENING_STARTED = 3,
    HAPPENING_MOVE_BEGUN = 4,
    HAPPENING_STOPPED = 5,
    HAPPENING_LEASE_ENDED = 6,
    HAPPENING_ARRIVED = 7,
    HAPPENING_RESTED_SHORT = 8,
    HAPPENING_RESTED_AT_END = 9,
    HAPPENING_BACK_TO_STILL = 10,
    HAPPENING_BACK_TO_ARMED = 11,
    HAPPENING_BACK_TO_PAUSED = 12,
    HAPPENING_BACK_TO_COMPLETE = 13,
    HAPPENING_TRIP = 14,
    HAPPENING_CLEARED_WITHOUT_PLAN = 15,
    HAPPENING_CLEARED_UNBEGUN = 16,
    HAPPENING_CLEARED_SHORT = 17,
    HAPPENING_CLEARED_AT_END = 18,
};

/* Moves between states: X(state, happening, state after). What is lacking cannot happen. */
#define BOARD_TABLE(X) \
    X(STATE_STILL, HAPPENING_WIND_OPENED, STATE_STILL) \
    X(STATE_STILL, HAPPENING_WIND_CLOSED, STATE_STILL) \
    X(STATE_ARMED, HAPPENING_WIND_CLOSED, STATE_STILL) \
    X(STATE_PAUSED, HAPPENING_WIND_CLOSED, STATE_STILL) \
    X(STATE_COMPLETE, HAPPENING_WIND_CLOSED, STATE_STILL) \
    X(STATE_STILL, HAPPENING_PLAN_IN_FORCE, STATE_ARMED) \
    X(STATE_ARMED, HAPPENING_PLAN_IN_FORCE, STATE_ARMED) \
    X(STATE_PAUSED, HAPPENING_PLAN_IN_FORCE, STATE_PAUSED) \
    X(STATE_COMPLETE, HAPPENING_PLAN_IN_FORCE, STATE_PAUSED) \
    X(STATE_ARMED, HAPPENING_STARTED, STATE_WINDING) \
    X(STATE_PAUSED, HAPPENING_STARTED, STATE_WINDING) \
    X(STATE_STILL, HAPPENING_MOVE_BEGUN, STATE_SETTING_UP) \
    X(STATE_ARMED, HAPPENING_MOVE_BEGUN, STATE_SETTING_UP) \
    X(STATE_PAUSED, HAPPENING_MOVE_BEGUN, STATE_SETTING_UP) \
    X(STATE_COMPLETE, HAPPENING_MOVE_BEGUN, STATE_SETTING_UP) \
    X(STATE_WINDING, HAPPENING_STOPPED, STATE_SLOWING) \
    X(STATE_SETTING_UP, HAPPENING_STOPPED, STATE_SLOWING) \
    X(STATE_WINDING, HAPPENING_LEASE_ENDED, STATE_SLOWING) \
    X(STATE_SETTING_UP, HAPPENING_LEASE_ENDED, STATE_SLOWING) \
    X(STATE_WINDING, HAPPENING_ARRIVED, STATE_SLOWING) \
    X(STATE_SETTING_UP, HAPPENING_ARRIVED, STATE_SLOWING) \
    X(STATE_SLOWING, HAPPENING_RESTED_SHORT, STATE_PAUSED) \
    X(STATE_SLOWING, HAPPENING_RESTED_AT_END, STATE_COMPLETE) \
    X(STATE_SLOWING, HAPPENING_BACK_TO_STILL, STATE_STILL) \
    X(STATE_SLOWING, HAPPENING_BACK_TO_ARMED, STATE_ARMED) \
    X(STATE_SLOWING, HAPPENING_BACK_TO_PAUSED, STATE_PAUSED) \
    X(STATE_SLOWING, HAPPENING_BACK_TO_COMPLETE, STATE_COMPLETE) \
    X(STATE_WINDING, HAPPENING_TRIP, STATE_TRIPPED) \
    X(STATE_SLOWING, HAPPENING_TRIP, STATE_TRIPPED) \
    X(STATE_SETTING_UP, HAPPENING_TRIP, STATE_TRIPPED) \
    X(STATE_STILL, HAPPENING_TRIP, STATE_TRIPPED) \
    X(STATE_ARMED, HAPPENING_TRIP, STATE_TRIPPED) \
    X(STATE_PAUSED, HAPPENING_TRIP, STATE_TRIPPED) \
    X(STATE_COMPLETE, HAPPENING_TRIP, STATE_TRIPPED) \
    X(STATE_TRIPPED, HAPPENING_TRIP, STATE_TRIPPED) \
    X(STATE_TRIPPED, HAPPENING_CLEARED_WITHOUT_PLAN, STATE_STILL) \
    X(STATE_TRIPPED, HAPPENING_CLEARED_UNBEGUN, STATE_ARMED) \
    X(STATE_TRIPPED, HAPPENING_CLEARED_SHORT, STATE_PAUSED) \
    X(STATE_TRIPPED, HAPPENING_CLEARED_AT_END, STATE_COMPLETE)

/* Limits of the settings, field after field: X(bytes, when it is looked at, not 0, bits that its number may have). */
enum { LIMIT_ALWAYS, LIMIT_DRIVER, LIMIT_GUIDE };
#define SETTINGS_LIMITS(X) \
    X(4, LIMIT_ALWAYS, 1, 32) \
    X(1, LIMIT_ALWAYS, 0, 2) \
    X(1, LIMIT_ALWAYS, 0, 5) \
    X(2, LIMIT_ALWAYS, 0, 16) \
    X(2, LIMIT_ALWAYS, 0, 16) \
    X(1, LIMIT_ALWAYS, 0, 1) \
    X(1, LIMIT_ALWAYS, 0, 5) \
    X(1, LIMIT_ALWAYS, 0, WIRED_BITS) \
    X(1, LIMIT_ALWAYS, 0, 1) \
    X(1, LIMIT_DRIVER, 1, 7) \
    X(4, LIMIT_DRIVER, 1, 31) \
    X(4, LIMIT_DRIVER, 1, 31) \
    X(4, LIMIT_DRIVER, 1, 31) \
    X(2, LIMIT_DRIVER, 0, 10) \
    X(2, LIMIT_DRIVER, 0, 15) \
    X(2, LIMIT_DRIVER, 1, 16) \
    X(2, LIMIT_DRIVER, 1, 16) \
    X(4, LIMIT_DRIVER, 0, 27) \
    X(4, LIMIT_GUIDE, 1, 24) \
    X(1, LIMIT_GUIDE, 1, 5)

/* --- bytes, little-endian ----------------------------------------------------------------- */

static inline void put_u16(uint8_t *to, uint16_t value) {
    to[0] = (uint8_t)(value & 0xFFu);
    to[1] = (uint8_t)(value >> 8);
}

static inline void put_u32(uint8_t *to, uint32_t value) {
    put_u16(to, (uint16_t)(value & 0xFFFFu));
    put_u16(to + 2, (uint16_t)(value >> 16));
}

static inline uint16_t get_u16(const uint8_t *from) {
    return (uint16_t)((uint16_t)from[0] | (uint16_t)((uint16_t)from[1] << 8));
}

static inline uint32_t get_u32(const uint8_t *from) {
    return (uint32_t)get_u16(from) | ((uint32_t)get_u16(from + 2) << 16);
}

/* Whether a struct lies in memory as its payload on the line: little-endian, without padding. */
#define LIES_AS_SENT(of, bytes) (__BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__ && sizeof(of) == (bytes))

/* --- messages ---------------------------------------------------------------------------- */

/* Hello: payload bytes, and where each field begins */
enum {
    MSG_HELLO_BYTES = 5,
    MSG_HELLO_BASE_VERSION_AT = 0,
    MSG_HELLO_TOKEN_AT = 1,
};
_Static_assert(MSG_HELLO_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

struct msg_hello {
    uint8_t base_version;
    uint32_t token;
};

_Static_assert(MSG_HELLO_TOKEN_AT + sizeof(((struct msg_hello *)0)->token) == MSG_HELLO_BYTES, "nothing behind the last field");

static inline void msg_hello_write(uint8_t *to, const struct msg_hello *from) {
    if (LIES_AS_SENT(struct msg_hello, MSG_HELLO_BYTES)) {
        memcpy(to, from, MSG_HELLO_BYTES);
        return;
    }
    to[MSG_HELLO_BASE_VERSION_AT] = from->base_version;
    put_u32(to + MSG_HELLO_TOKEN_AT, from->token);
}

static inline void msg_hello_read(struct msg_hello *to, const uint8_t *from) {
    if (LIES_AS_SENT(struct msg_hello, MSG_HELLO_BYTES)) {
        memcpy(to, from, MSG_HELLO_BYTES);
        return;
    }
    to->base_version = from[MSG_HELLO_BASE_VERSION_AT];
    to->token = get_u32(from + MSG_HELLO_TOKEN_AT);
}

/* Alive: payload bytes, and where each field begins */
enum {
    MSG_ALIVE_BYTES = 8,
    MSG_ALIVE_TOKEN_AT = 0,
    MSG_ALIVE_NUMBER_AT = 4,
};
_Static_assert(MSG_ALIVE_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

struct msg_alive {
    uint32_t token;
    uint32_t number;
};

_Static_assert(MSG_ALIVE_NUMBER_AT + sizeof(((struct msg_alive *)0)->number) == MSG_ALIVE_BYTES, "nothing behind the last field");

static inline void msg_alive_write(uint8_t *to, const struct msg_alive *from) {
    if (LIES_AS_SENT(struct msg_alive, MSG_ALIVE_BYTES)) {
        memcpy(to, from, MSG_ALIVE_BYTES);
        return;
    }
    put_u32(to + MSG_ALIVE_TOKEN_AT, from->token);
    put_u32(to + MSG_ALIVE_NUMBER_AT, from->number);
}

static inline void msg_alive_read(struct msg_alive *to, const uint8_t *from) {
    if (LIES_AS_SENT(struct msg_alive, MSG_ALIVE_BYTES)) {
        memcpy(to, from, MSG_ALIVE_BYTES);
        return;
    }
    to->token = get_u32(from + MSG_ALIVE_TOKEN_AT);
    to->number = get_u32(from + MSG_ALIVE_NUMBER_AT);
}

/* Stop: payload bytes, and where each field begins */
enum {
    MSG_STOP_BYTES = 0,
};
_Static_assert(MSG_STOP_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

/* OpenWind: payload bytes, and where each field begins */
enum {
    MSG_OPEN_WIND_BYTES = 12,
    MSG_OPEN_WIND_TOKEN_AT = 0,
    MSG_OPEN_WIND_BOOT_AT = 4,
    MSG_OPEN_WIND_REVISION_AT = 6,
    MSG_OPEN_WIND_WIND_AT = 8,
};
_Static_assert(MSG_OPEN_WIND_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

struct msg_open_wind {
    uint32_t token;
    uint16_t boot;
    uint16_t revision;
    uint32_t wind;
};

_Static_assert(MSG_OPEN_WIND_WIND_AT + sizeof(((struct msg_open_wind *)0)->wind) == MSG_OPEN_WIND_BYTES, "nothing behind the last field");

static inline void msg_open_wind_write(uint8_t *to, const struct msg_open_wind *from) {
    if (LIES_AS_SENT(struct msg_open_wind, MSG_OPEN_WIND_BYTES)) {
        memcpy(to, from, MSG_OPEN_WIND_BYTES);
        return;
    }
    put_u32(to + MSG_OPEN_WIND_TOKEN_AT, from->token);
    put_u16(to + MSG_OPEN_WIND_BOOT_AT, from->boot);
    put_u16(to + MSG_OPEN_WIND_REVISION_AT, from->revision);
    put_u32(to + MSG_OPEN_WIND_WIND_AT, from->wind);
}

static inline void msg_open_wind_read(struct msg_open_wind *to, const uint8_t *from) {
    if (LIES_AS_SENT(struct msg_open_wind, MSG_OPEN_WIND_BYTES)) {
        memcpy(to, from, MSG_OPEN_WIND_BYTES);
        return;
    }
    to->token = get_u32(from + MSG_OPEN_WIND_TOKEN_AT);
    to->boot = get_u16(from + MSG_OPEN_WIND_BOOT_AT);
    to->revision = get_u16(from + MSG_OPEN_WIND_REVISION_AT);
    to->wind = get_u32(from + MSG_OPEN_WIND_WIND_AT);
}

/* SetTarget: payload bytes, and where each field begins */
enum {
    MSG_SET_TARGET_BYTES = 20,
    MSG_SET_TARGET_TOKEN_AT = 0,
    MSG_SET_TARGET_BOOT_AT = 4,
    MSG_SET_TARGET_WIND_AT = 6,
    MSG_SET_TARGET_REVISION_AT = 10,
    MSG_SET_TARGET_COUNT_AT = 12,
    MSG_SET_TARGET_WARN_BEFORE_AT = 16,
};
_Static_assert(MSG_SET_TARGET_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

struct msg_set_target {
    uint32_t token;
    uint16_t boot;
    uint32_t wind;
    uint16_t revision;
    int32_t count; /* counts */
    uint32_t warn_before; /* counts */
};

_Static_assert(MSG_SET_TARGET_WARN_BEFORE_AT + sizeof(((struct msg_set_target *)0)->warn_before) == MSG_SET_TARGET_BYTES, "nothing behind the last field");

static inline void msg_set_target_write(uint8_t *to, const struct msg_set_target *from) {
    if (LIES_AS_SENT(struct msg_set_target, MSG_SET_TARGET_BYTES)) {
        memcpy(to, from, MSG_SET_TARGET_BYTES);
        return;
    }
    put_u32(to + MSG_SET_TARGET_TOKEN_AT, from->token);
    put_u16(to + MSG_SET_TARGET_BOOT_AT, from->boot);
    put_u32(to + MSG_SET_TARGET_WIND_AT, from->wind);
    put_u16(to + MSG_SET_TARGET_REVISION_AT, from->revision);
    put_u32(to + MSG_SET_TARGET_COUNT_AT, (uint32_t)from->count);
    put_u32(to + MSG_SET_TARGET_WARN_BEFORE_AT, from->warn_before);
}

static inline void msg_set_target_read(struct msg_set_target *to, const uint8_t *from) {
    if (LIES_AS_SENT(struct msg_set_target, MSG_SET_TARGET_BYTES)) {
        memcpy(to, from, MSG_SET_TARGET_BYTES);
        return;
    }
    to->token = get_u32(from + MSG_SET_TARGET_TOKEN_AT);
    to->boot = get_u16(from + MSG_SET_TARGET_BOOT_AT);
    to->wind = get_u32(from + MSG_SET_TARGET_WIND_AT);
    to->revision = get_u16(from + MSG_SET_TARGET_REVISION_AT);
    to->count = (int32_t)get_u32(from + MSG_SET_TARGET_COUNT_AT);
    to->warn_before = get_u32(from + MSG_SET_TARGET_WARN_BEFORE_AT);
}

/* CloseWind: payload bytes, and where each field begins */
enum {
    MSG_CLOSE_WIND_BYTES = 12,
    MSG_CLOSE_WIND_TOKEN_AT = 0,
    MSG_CLOSE_WIND_BOOT_AT = 4,
    MSG_CLOSE_WIND_WIND_AT = 6,
    MSG_CLOSE_WIND_REVISION_AT = 10,
};
_Static_assert(MSG_CLOSE_WIND_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

struct msg_close_wind {
    uint32_t token;
    uint16_t boot;
    uint32_t wind;
    uint16_t revision;
};

_Static_assert(MSG_CLOSE_WIND_REVISION_AT + sizeof(((struct msg_close_wind *)0)->revision) == MSG_CLOSE_WIND_BYTES, "nothing behind the last field");

static inline void msg_close_wind_write(uint8_t *to, const struct msg_close_wind *from) {
    if (LIES_AS_SENT(struct msg_close_wind, MSG_CLOSE_WIND_BYTES)) {
        memcpy(to, from, MSG_CLOSE_WIND_BYTES);
        return;
    }
    put_u32(to + MSG_CLOSE_WIND_TOKEN_AT, from->token);
    put_u16(to + MSG_CLOSE_WIND_BOOT_AT, from->boot);
    put_u32(to + MSG_CLOSE_WIND_WIND_AT, from->wind);
    put_u16(to + MSG_CLOSE_WIND_REVISION_AT, from->revision);
}

static inline void msg_close_wind_read(struct msg_close_wind *to, const uint8_t *from) {
    if (LIES_AS_SENT(struct msg_close_wind, MSG_CLOSE_WIND_BYTES)) {
        memcpy(to, from, MSG_CLOSE_WIND_BYTES);
        return;
    }
    to->token = get_u32(from + MSG_CLOSE_WIND_TOKEN_AT);
    to->boot = get_u16(from + MSG_CLOSE_WIND_BOOT_AT);
    to->wind = get_u32(from + MSG_CLOSE_WIND_WIND_AT);
    to->revision = get_u16(from + MSG_CLOSE_WIND_REVISION_AT);
}

/* SettleNumber: payload bytes, and where each field begins */
enum {
    MSG_SETTLE_NUMBER_BYTES = 4,
    MSG_SETTLE_NUMBER_TOKEN_AT = 0,
};
_Static_assert(MSG_SETTLE_NUMBER_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

struct msg_settle_number {
    uint32_t token;
};

_Static_assert(MSG_SETTLE_NUMBER_TOKEN_AT + sizeof(((struct msg_settle_number *)0)->token) == MSG_SETTLE_NUMBER_BYTES, "nothing behind the last field");

static inline void msg_settle_number_write(uint8_t *to, const struct msg_settle_number *from) {
    if (LIES_AS_SENT(struct msg_settle_number, MSG_SETTLE_NUMBER_BYTES)) {
        memcpy(to, from, MSG_SETTLE_NUMBER_BYTES);
        return;
    }
    put_u32(to + MSG_SETTLE_NUMBER_TOKEN_AT, from->token);
}

static inline void msg_settle_number_read(struct msg_settle_number *to, const uint8_t *from) {
    if (LIES_AS_SENT(struct msg_settle_number, MSG_SETTLE_NUMBER_BYTES)) {
        memcpy(to, from, MSG_SETTLE_NUMBER_BYTES);
        return;
    }
    to->token = get_u32(from + MSG_SETTLE_NUMBER_TOKEN_AT);
}

/* ClearTrip: payload bytes, and where each field begins */
enum {
    MSG_CLEAR_TRIP_BYTES = 13,
    MSG_CLEAR_TRIP_TOKEN_AT = 0,
    MSG_CLEAR_TRIP_BOOT_AT = 4,
    MSG_CLEAR_TRIP_WIND_AT = 6,
    MSG_CLEAR_TRIP_REVISION_AT = 10,
    MSG_CLEAR_TRIP_TRIP_AT = 12,
};
_Static_assert(MSG_CLEAR_TRIP_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

struct msg_clear_trip {
    uint32_t token;
    uint16_t boot;
    uint32_t wind;
    uint16_t revision;
    uint8_t trip; /* Trip */
};

_Static_assert(MSG_CLEAR_TRIP_TRIP_AT + sizeof(((struct msg_clear_trip *)0)->trip) == MSG_CLEAR_TRIP_BYTES, "nothing behind the last field");

static inline void msg_clear_trip_write(uint8_t *to, const struct msg_clear_trip *from) {
    if (LIES_AS_SENT(struct msg_clear_trip, MSG_CLEAR_TRIP_BYTES)) {
        memcpy(to, from, MSG_CLEAR_TRIP_BYTES);
        return;
    }
    put_u32(to + MSG_CLEAR_TRIP_TOKEN_AT, from->token);
    put_u16(to + MSG_CLEAR_TRIP_BOOT_AT, from->boot);
    put_u32(to + MSG_CLEAR_TRIP_WIND_AT, from->wind);
    put_u16(to + MSG_CLEAR_TRIP_REVISION_AT, from->revision);
    to[MSG_CLEAR_TRIP_TRIP_AT] = from->trip;
}

static inline void msg_clear_trip_read(struct msg_clear_trip *to, const uint8_t *from) {
    if (LIES_AS_SENT(struct msg_clear_trip, MSG_CLEAR_TRIP_BYTES)) {
        memcpy(to, from, MSG_CLEAR_TRIP_BYTES);
        return;
    }
    to->token = get_u32(from + MSG_CLEAR_TRIP_TOKEN_AT);
    to->boot = get_u16(from + MSG_CLEAR_TRIP_BOOT_AT);
    to->wind = get_u32(from + MSG_CLEAR_TRIP_WIND_AT);
    to->revision = get_u16(from + MSG_CLEAR_TRIP_REVISION_AT);
    to->trip = from[MSG_CLEAR_TRIP_TRIP_AT];
}

/* Start: payload bytes, and where each field begins */
enum {
    MSG_START_BYTES = 13,
    MSG_START_TOKEN_AT = 0,
    MSG_START_BOOT_AT = 4,
    MSG_START_WIND_AT = 6,
    MSG_START_REVISION_AT = 10,
    MSG_START_GENERATION_AT = 12,
};
_Static_assert(MSG_START_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

struct msg_start {
    uint32_t token;
    uint16_t boot;
    uint32_t wind;
    uint16_t revision;
    uint8_t generation;
};

_Static_assert(MSG_START_GENERATION_AT + sizeof(((struct msg_start *)0)->generation) == MSG_START_BYTES, "nothing behind the last field");

static inline void msg_start_write(uint8_t *to, const struct msg_start *from) {
    if (LIES_AS_SENT(struct msg_start, MSG_START_BYTES)) {
        memcpy(to, from, MSG_START_BYTES);
        return;
    }
    put_u32(to + MSG_START_TOKEN_AT, from->token);
    put_u16(to + MSG_START_BOOT_AT, from->boot);
    put_u32(to + MSG_START_WIND_AT, from->wind);
    put_u16(to + MSG_START_REVISION_AT, from->revision);
    to[MSG_START_GENERATION_AT] = from->generation;
}

static inline void msg_start_read(struct msg_start *to, const uint8_t *from) {
    if (LIES_AS_SENT(struct msg_start, MSG_START_BYTES)) {
        memcpy(to, from, MSG_START_BYTES);
        return;
    }
    to->token = get_u32(from + MSG_START_TOKEN_AT);
    to->boot = get_u16(from + MSG_START_BOOT_AT);
    to->wind = get_u32(from + MSG_START_WIND_AT);
    to->revision = get_u16(from + MSG_START_REVISION_AT);
    to->generation = from[MSG_START_GENERATION_AT];
}

/* Move: payload bytes, and where each field begins */
enum {
    MSG_MOVE_BYTES = 24,
    MSG_MOVE_TOKEN_AT = 0,
    MSG_MOVE_BOOT_AT = 4,
    MSG_MOVE_WIND_AT = 6,
    MSG_MOVE_REVISION_AT = 10,
    MSG_MOVE_COUNTS_AT = 12,
    MSG_MOVE_RATE_MCPS_AT = 16,
    MSG_MOVE_ACCEL_MCPS2_AT = 20,
};
_Static_assert(MSG_MOVE_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

struct msg_move {
    uint32_t token;
    uint16_t boot;
    uint32_t wind;
    uint16_t revision;
    int32_t counts; /* counts */
    uint32_t rate_mcps; /* 0.001 counts/s */
    uint32_t accel_mcps2; /* 0.001 counts/s2 */
};

_Static_assert(MSG_MOVE_ACCEL_MCPS2_AT + sizeof(((struct msg_move *)0)->accel_mcps2) == MSG_MOVE_BYTES, "nothing behind the last field");

static inline void msg_move_write(uint8_t *to, const struct msg_move *from) {
    if (LIES_AS_SENT(struct msg_move, MSG_MOVE_BYTES)) {
        memcpy(to, from, MSG_MOVE_BYTES);
        return;
    }
    put_u32(to + MSG_MOVE_TOKEN_AT, from->token);
    put_u16(to + MSG_MOVE_BOOT_AT, from->boot);
    put_u32(to + MSG_MOVE_WIND_AT, from->wind);
    put_u16(to + MSG_MOVE_REVISION_AT, from->revision);
    put_u32(to + MSG_MOVE_COUNTS_AT, (uint32_t)from->counts);
    put_u32(to + MSG_MOVE_RATE_MCPS_AT, from->rate_mcps);
    put_u32(to + MSG_MOVE_ACCEL_MCPS2_AT, from->accel_mcps2);
}

static inline void msg_move_read(struct msg_move *to, const uint8_t *from) {
    if (LIES_AS_SENT(struct msg_move, MSG_MOVE_BYTES)) {
        memcpy(to, from, MSG_MOVE_BYTES);
        return;
    }
    to->token = get_u32(from + MSG_MOVE_TOKEN_AT);
    to->boot = get_u16(from + MSG_MOVE_BOOT_AT);
    to->wind = get_u32(from + MSG_MOVE_WIND_AT);
    to->revision = get_u16(from + MSG_MOVE_REVISION_AT);
    to->counts = (int32_t)get_u32(from + MSG_MOVE_COUNTS_AT);
    to->rate_mcps = get_u32(from + MSG_MOVE_RATE_MCPS_AT);
    to->accel_mcps2 = get_u32(from + MSG_MOVE_ACCEL_MCPS2_AT);
}

/* Pace: payload bytes, and where each field begins */
enum {
    MSG_PACE_BYTES = 14,
    MSG_PACE_TOKEN_AT = 0,
    MSG_PACE_BOOT_AT = 4,
    MSG_PACE_WIND_AT = 6,
    MSG_PACE_REVISION_AT = 10,
    MSG_PACE_PERMILLE_AT = 12,
};
_Static_assert(MSG_PACE_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

struct msg_pace {
    uint32_t token;
    uint16_t boot;
    uint32_t wind;
    uint16_t revision;
    uint16_t permille; /* 0.001 */
};

_Static_assert(MSG_PACE_PERMILLE_AT + sizeof(((struct msg_pace *)0)->permille) == MSG_PACE_BYTES, "nothing behind the last field");

static inline void msg_pace_write(uint8_t *to, const struct msg_pace *from) {
    if (LIES_AS_SENT(struct msg_pace, MSG_PACE_BYTES)) {
        memcpy(to, from, MSG_PACE_BYTES);
        return;
    }
    put_u32(to + MSG_PACE_TOKEN_AT, from->token);
    put_u16(to + MSG_PACE_BOOT_AT, from->boot);
    put_u32(to + MSG_PACE_WIND_AT, from->wind);
    put_u16(to + MSG_PACE_REVISION_AT, from->revision);
    put_u16(to + MSG_PACE_PERMILLE_AT, from->permille);
}

static inline void msg_pace_read(struct msg_pace *to, const uint8_t *from) {
    if (LIES_AS_SENT(struct msg_pace, MSG_PACE_BYTES)) {
        memcpy(to, from, MSG_PACE_BYTES);
        return;
    }
    to->token = get_u32(from + MSG_PACE_TOKEN_AT);
    to->boot = get_u16(from + MSG_PACE_BOOT_AT);
    to->wind = get_u32(from + MSG_PACE_WIND_AT);
    to->revision = get_u16(from + MSG_PACE_REVISION_AT);
    to->permille = get_u16(from + MSG_PACE_PERMILLE_AT);
}

/* Cut: payload bytes, and where each field begins */
enum {
    MSG_CUT_BYTES = 0,
};
_Static_assert(MSG_CUT_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

/* TraverseStep: payload bytes, and where each field begins */
enum {
    MSG_TRAVERSE_STEP_BYTES = 16,
    MSG_TRAVERSE_STEP_TOKEN_AT = 0,
    MSG_TRAVERSE_STEP_BOOT_AT = 4,
    MSG_TRAVERSE_STEP_WIND_AT = 6,
    MSG_TRAVERSE_STEP_REVISION_AT = 10,
    MSG_TRAVERSE_STEP_DISTANCE_UM_AT = 12,
};
_Static_assert(MSG_TRAVERSE_STEP_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

struct msg_traverse_step {
    uint32_t token;
    uint16_t boot;
    uint32_t wind;
    uint16_t revision;
    int32_t distance_um; /* um */
};

_Static_assert(MSG_TRAVERSE_STEP_DISTANCE_UM_AT + sizeof(((struct msg_traverse_step *)0)->distance_um) == MSG_TRAVERSE_STEP_BYTES, "nothing behind the last field");

static inline void msg_traverse_step_write(uint8_t *to, const struct msg_traverse_step *from) {
    if (LIES_AS_SENT(struct msg_traverse_step, MSG_TRAVERSE_STEP_BYTES)) {
        memcpy(to, from, MSG_TRAVERSE_STEP_BYTES);
        return;
    }
    put_u32(to + MSG_TRAVERSE_STEP_TOKEN_AT, from->token);
    put_u16(to + MSG_TRAVERSE_STEP_BOOT_AT, from->boot);
    put_u32(to + MSG_TRAVERSE_STEP_WIND_AT, from->wind);
    put_u16(to + MSG_TRAVERSE_STEP_REVISION_AT, from->revision);
    put_u32(to + MSG_TRAVERSE_STEP_DISTANCE_UM_AT, (uint32_t)from->distance_um);
}

static inline void msg_traverse_step_read(struct msg_traverse_step *to, const uint8_t *from) {
    if (LIES_AS_SENT(struct msg_traverse_step, MSG_TRAVERSE_STEP_BYTES)) {
        memcpy(to, from, MSG_TRAVERSE_STEP_BYTES);
        return;
    }
    to->token = get_u32(from + MSG_TRAVERSE_STEP_TOKEN_AT);
    to->boot = get_u16(from + MSG_TRAVERSE_STEP_BOOT_AT);
    to->wind = get_u32(from + MSG_TRAVERSE_STEP_WIND_AT);
    to->revision = get_u16(from + MSG_TRAVERSE_STEP_REVISION_AT);
    to->distance_um = (int32_t)get_u32(from + MSG_TRAVERSE_STEP_DISTANCE_UM_AT);
}

/* TraverseMark: payload bytes, and where each field begins */
enum {
    MSG_TRAVERSE_MARK_BYTES = 17,
    MSG_TRAVERSE_MARK_TOKEN_AT = 0,
    MSG_TRAVERSE_MARK_BOOT_AT = 4,
    MSG_TRAVERSE_MARK_WIND_AT = 6,
    MSG_TRAVERSE_MARK_REVISION_AT = 10,
    MSG_TRAVERSE_MARK_SIDE_AT = 12,
    MSG_TRAVERSE_MARK_AT_UM_AT = 13,
};
_Static_assert(MSG_TRAVERSE_MARK_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

struct msg_traverse_mark {
    uint32_t token;
    uint16_t boot;
    uint32_t wind;
    uint16_t revision;
    uint8_t side; /* Side */
    int32_t at_um; /* um */
};

_Static_assert(MSG_TRAVERSE_MARK_AT_UM_AT + sizeof(((struct msg_traverse_mark *)0)->at_um) == MSG_TRAVERSE_MARK_BYTES, "nothing behind the last field");

static inline void msg_traverse_mark_write(uint8_t *to, const struct msg_traverse_mark *from) {
    if (LIES_AS_SENT(struct msg_traverse_mark, MSG_TRAVERSE_MARK_BYTES)) {
        memcpy(to, from, MSG_TRAVERSE_MARK_BYTES);
        return;
    }
    put_u32(to + MSG_TRAVERSE_MARK_TOKEN_AT, from->token);
    put_u16(to + MSG_TRAVERSE_MARK_BOOT_AT, from->boot);
    put_u32(to + MSG_TRAVERSE_MARK_WIND_AT, from->wind);
    put_u16(to + MSG_TRAVERSE_MARK_REVISION_AT, from->revision);
    to[MSG_TRAVERSE_MARK_SIDE_AT] = from->side;
    put_u32(to + MSG_TRAVERSE_MARK_AT_UM_AT, (uint32_t)from->at_um);
}

static inline void msg_traverse_mark_read(struct msg_traverse_mark *to, const uint8_t *from) {
    if (LIES_AS_SENT(struct msg_traverse_mark, MSG_TRAVERSE_MARK_BYTES)) {
        memcpy(to, from, MSG_TRAVERSE_MARK_BYTES);
        return;
    }
    to->token = get_u32(from + MSG_TRAVERSE_MARK_TOKEN_AT);
    to->boot = get_u16(from + MSG_TRAVERSE_MARK_BOOT_AT);
    to->wind = get_u32(from + MSG_TRAVERSE_MARK_WIND_AT);
    to->revision = get_u16(from + MSG_TRAVERSE_MARK_REVISION_AT);
    to->side = from[MSG_TRAVERSE_MARK_SIDE_AT];
    to->at_um = (int32_t)get_u32(from + MSG_TRAVERSE_MARK_AT_UM_AT);
}

/* TraverseHome: payload bytes, and where each field begins */
enum {
    MSG_TRAVERSE_HOME_BYTES = 24,
    MSG_TRAVERSE_HOME_TOKEN_AT = 0,
    MSG_TRAVERSE_HOME_BOOT_AT = 4,
    MSG_TRAVERSE_HOME_WIND_AT = 6,
    MSG_TRAVERSE_HOME_REVISION_AT = 10,
    MSG_TRAVERSE_HOME_AT_UM_AT = 12,
    MSG_TRAVERSE_HOME_RATE_UM_S_AT = 16,
    MSG_TRAVERSE_HOME_ACCEL_UM_S2_AT = 20,
};
_Static_assert(MSG_TRAVERSE_HOME_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

struct msg_traverse_home {
    uint32_t token;
    uint16_t boot;
    uint32_t wind;
    uint16_t revision;
    int32_t at_um; /* um */
    uint32_t rate_um_s; /* um/s */
    uint32_t accel_um_s2; /* um/s2 */
};

_Static_assert(MSG_TRAVERSE_HOME_ACCEL_UM_S2_AT + sizeof(((struct msg_traverse_home *)0)->accel_um_s2) == MSG_TRAVERSE_HOME_BYTES, "nothing behind the last field");

static inline void msg_traverse_home_write(uint8_t *to, const struct msg_traverse_home *from) {
    if (LIES_AS_SENT(struct msg_traverse_home, MSG_TRAVERSE_HOME_BYTES)) {
        memcpy(to, from, MSG_TRAVERSE_HOME_BYTES);
        return;
    }
    put_u32(to + MSG_TRAVERSE_HOME_TOKEN_AT, from->token);
    put_u16(to + MSG_TRAVERSE_HOME_BOOT_AT, from->boot);
    put_u32(to + MSG_TRAVERSE_HOME_WIND_AT, from->wind);
    put_u16(to + MSG_TRAVERSE_HOME_REVISION_AT, from->revision);
    put_u32(to + MSG_TRAVERSE_HOME_AT_UM_AT, (uint32_t)from->at_um);
    put_u32(to + MSG_TRAVERSE_HOME_RATE_UM_S_AT, from->rate_um_s);
    put_u32(to + MSG_TRAVERSE_HOME_ACCEL_UM_S2_AT, from->accel_um_s2);
}

static inline void msg_traverse_home_read(struct msg_traverse_home *to, const uint8_t *from) {
    if (LIES_AS_SENT(struct msg_traverse_home, MSG_TRAVERSE_HOME_BYTES)) {
        memcpy(to, from, MSG_TRAVERSE_HOME_BYTES);
        return;
    }
    to->token = get_u32(from + MSG_TRAVERSE_HOME_TOKEN_AT);
    to->boot = get_u16(from + MSG_TRAVERSE_HOME_BOOT_AT);
    to->wind = get_u32(from + MSG_TRAVERSE_HOME_WIND_AT);
    to->revision = get_u16(from + MSG_TRAVERSE_HOME_REVISION_AT);
    to->at_um = (int32_t)get_u32(from + MSG_TRAVERSE_HOME_AT_UM_AT);
    to->rate_um_s = get_u32(from + MSG_TRAVERSE_HOME_RATE_UM_S_AT);
    to->accel_um_s2 = get_u32(from + MSG_TRAVERSE_HOME_ACCEL_UM_S2_AT);
}

/* TraverseMove: payload bytes, and where each field begins */
enum {
    MSG_TRAVERSE_MOVE_BYTES = 24,
    MSG_TRAVERSE_MOVE_TOKEN_AT = 0,
    MSG_TRAVERSE_MOVE_BOOT_AT = 4,
    MSG_TRAVERSE_MOVE_WIND_AT = 6,
    MSG_TRAVERSE_MOVE_REVISION_AT = 10,
    MSG_TRAVERSE_MOVE_DISTANCE_UM_AT = 12,
    MSG_TRAVERSE_MOVE_RATE_UM_S_AT = 16,
    MSG_TRAVERSE_MOVE_ACCEL_UM_S2_AT = 20,
};
_Static_assert(MSG_TRAVERSE_MOVE_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

struct msg_traverse_move {
    uint32_t token;
    uint16_t boot;
    uint32_t wind;
    uint16_t revision;
    int32_t distance_um; /* um */
    uint32_t rate_um_s; /* um/s */
    uint32_t accel_um_s2; /* um/s2 */
};

_Static_assert(MSG_TRAVERSE_MOVE_ACCEL_UM_S2_AT + sizeof(((struct msg_traverse_move *)0)->accel_um_s2) == MSG_TRAVERSE_MOVE_BYTES, "nothing behind the last field");

static inline void msg_traverse_move_write(uint8_t *to, const struct msg_traverse_move *from) {
    if (LIES_AS_SENT(struct msg_traverse_move, MSG_TRAVERSE_MOVE_BYTES)) {
        memcpy(to, from, MSG_TRAVERSE_MOVE_BYTES);
        return;
    }
    put_u32(to + MSG_TRAVERSE_MOVE_TOKEN_AT, from->token);
    put_u16(to + MSG_TRAVERSE_MOVE_BOOT_AT, from->boot);
    put_u32(to + MSG_TRAVERSE_MOVE_WIND_AT, from->wind);
    put_u16(to + MSG_TRAVERSE_MOVE_REVISION_AT, from->revision);
    put_u32(to + MSG_TRAVERSE_MOVE_DISTANCE_UM_AT, (uint32_t)from->distance_um);
    put_u32(to + MSG_TRAVERSE_MOVE_RATE_UM_S_AT, from->rate_um_s);
    put_u32(to + MSG_TRAVERSE_MOVE_ACCEL_UM_S2_AT, from->accel_um_s2);
}

static inline void msg_traverse_move_read(struct msg_traverse_move *to, const uint8_t *from) {
    if (LIES_AS_SENT(struct msg_traverse_move, MSG_TRAVERSE_MOVE_BYTES)) {
        memcpy(to, from, MSG_TRAVERSE_MOVE_BYTES);
        return;
    }
    to->token = get_u32(from + MSG_TRAVERSE_MOVE_TOKEN_AT);
    to->boot = get_u16(from + MSG_TRAVERSE_MOVE_BOOT_AT);
    to->wind = get_u32(from + MSG_TRAVERSE_MOVE_WIND_AT);
    to->revision = get_u16(from + MSG_TRAVERSE_MOVE_REVISION_AT);
    to->distance_um = (int32_t)get_u32(from + MSG_TRAVERSE_MOVE_DISTANCE_UM_AT);
    to->rate_um_s = get_u32(from + MSG_TRAVERSE_MOVE_RATE_UM_S_AT);
    to->accel_um_s2 = get_u32(from + MSG_TRAVERSE_MOVE_ACCEL_UM_S2_AT);
}

/* PlanBegin: payload bytes, and where each field begins */
enum {
    MSG_PLAN_BEGIN_BYTES = 14,
    MSG_PLAN_BEGIN_TOKEN_AT = 0,
    MSG_PLAN_BEGIN_BOOT_AT = 4,
    MSG_PLAN_BEGIN_WIND_AT = 6,
    MSG_PLAN_BEGIN_REVISION_AT = 10,
    MSG_PLAN_BEGIN_GENERATION_AT = 12,
    MSG_PLAN_BEGIN_LEGS_AT = 13,
};
_Static_assert(MSG_PLAN_BEGIN_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

struct msg_plan_begin {
    uint32_t token;
    uint16_t boot;
    uint32_t wind;
    uint16_t revision;
    uint8_t generation;
    uint8_t legs;
};

_Static_assert(MSG_PLAN_BEGIN_LEGS_AT + sizeof(((struct msg_plan_begin *)0)->legs) == MSG_PLAN_BEGIN_BYTES, "nothing behind the last field");

static inline void msg_plan_begin_write(uint8_t *to, const struct msg_plan_begin *from) {
    if (LIES_AS_SENT(struct msg_plan_begin, MSG_PLAN_BEGIN_BYTES)) {
        memcpy(to, from, MSG_PLAN_BEGIN_BYTES);
        return;
    }
    put_u32(to + MSG_PLAN_BEGIN_TOKEN_AT, from->token);
    put_u16(to + MSG_PLAN_BEGIN_BOOT_AT, from->boot);
    put_u32(to + MSG_PLAN_BEGIN_WIND_AT, from->wind);
    put_u16(to + MSG_PLAN_BEGIN_REVISION_AT, from->revision);
    to[MSG_PLAN_BEGIN_GENERATION_AT] = from->generation;
    to[MSG_PLAN_BEGIN_LEGS_AT] = from->legs;
}

static inline void msg_plan_begin_read(struct msg_plan_begin *to, const uint8_t *from) {
    if (LIES_AS_SENT(struct msg_plan_begin, MSG_PLAN_BEGIN_BYTES)) {
        memcpy(to, from, MSG_PLAN_BEGIN_BYTES);
        return;
    }
    to->token = get_u32(from + MSG_PLAN_BEGIN_TOKEN_AT);
    to->boot = get_u16(from + MSG_PLAN_BEGIN_BOOT_AT);
    to->wind = get_u32(from + MSG_PLAN_BEGIN_WIND_AT);
    to->revision = get_u16(from + MSG_PLAN_BEGIN_REVISION_AT);
    to->generation = from[MSG_PLAN_BEGIN_GENERATION_AT];
    to->legs = from[MSG_PLAN_BEGIN_LEGS_AT];
}

/* PlanLeg: payload bytes, and where each field begins */
enum {
    MSG_PLAN_LEG_BYTES = 44,
    MSG_PLAN_LEG_TOKEN_AT = 0,
    MSG_PLAN_LEG_GENERATION_AT = 4,
    MSG_PLAN_LEG_INDEX_AT = 5,
    MSG_PLAN_LEG_END_ACTION_AT = 6,
    MSG_PLAN_LEG_SPINDLE_AT = 7,
    MSG_PLAN_LEG_END_COUNT_AT = 8,
    MSG_PLAN_LEG_RATE_MCPS_AT = 12,
    MSG_PLAN_LEG_ACCEL_MCPS2_AT = 16,
    MSG_PLAN_LEG_CREEP_MCPS_AT = 20,
    MSG_PLAN_LEG_COAST_COUNTS_AT = 24,
    MSG_PLAN_LEG_PITCH_NM_AT = 26,
    MSG_PLAN_LEG_PITCH_COUNTS_AT = 30,
    MSG_PLAN_LEG_LEFT_UM_AT = 32,
    MSG_PLAN_LEG_RIGHT_UM_AT = 36,
    MSG_PLAN_LEG_DWELL_COUNTS_AT = 40,
    MSG_PLAN_LEG_SCATTER_SEED_AT = 42,
};
_Static_assert(MSG_PLAN_LEG_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

struct msg_plan_leg {
    uint32_t token;
    uint8_t generation;
    uint8_t index;
    uint8_t end_action; /* EndAction */
    int8_t spindle;
    int32_t end_count; /* counts */
    uint32_t rate_mcps; /* 0.001 counts/s */
    uint32_t accel_mcps2; /* 0.001 counts/s2 */
    uint32_t creep_mcps; /* 0.001 counts/s */
    uint16_t coast_counts; /* counts */
    uint32_t pitch_nm; /* nm */
    uint16_t pitch_counts; /* counts */
    int32_t left_um; /* um */
    int32_t right_um; /* um */
    uint16_t dwell_counts; /* counts */
    uint16_t scatter_seed;
};

_Static_assert(MSG_PLAN_LEG_SCATTER_SEED_AT + sizeof(((struct msg_plan_leg *)0)->scatter_seed) == MSG_PLAN_LEG_BYTES, "nothing behind the last field");

static inline void msg_plan_leg_write(uint8_t *to, const struct msg_plan_leg *from) {
    if (LIES_AS_SENT(struct msg_plan_leg, MSG_PLAN_LEG_BYTES)) {
        memcpy(to, from, MSG_PLAN_LEG_BYTES);
        return;
    }
    put_u32(to + MSG_PLAN_LEG_TOKEN_AT, from->token);
    to[MSG_PLAN_LEG_GENERATION_AT] = from->generation;
    to[MSG_PLAN_LEG_INDEX_AT] = from->index;
    to[MSG_PLAN_LEG_END_ACTION_AT] = from->end_action;
    to[MSG_PLAN_LEG_SPINDLE_AT] = (uint8_t)from->spindle;
    put_u32(to + MSG_PLAN_LEG_END_COUNT_AT, (uint32_t)from->end_count);
    put_u32(to + MSG_PLAN_LEG_RATE_MCPS_AT, from->rate_mcps);
    put_u32(to + MSG_PLAN_LEG_ACCEL_MCPS2_AT, from->accel_mcps2);
    put_u32(to + MSG_PLAN_LEG_CREEP_MCPS_AT, from->creep_mcps);
    put_u16(to + MSG_PLAN_LEG_COAST_COUNTS_AT, from->coast_counts);
    put_u32(to + MSG_PLAN_LEG_PITCH_NM_AT, from->pitch_nm);
    put_u16(to + MSG_PLAN_LEG_PITCH_COUNTS_AT, from->pitch_counts);
    put_u32(to + MSG_PLAN_LEG_LEFT_UM_AT, (uint32_t)from->left_um);
    put_u32(to + MSG_PLAN_LEG_RIGHT_UM_AT, (uint32_t)from->right_um);
    put_u16(to + MSG_PLAN_LEG_DWELL_COUNTS_AT, from->dwell_counts);
    put_u16(to + MSG_PLAN_LEG_SCATTER_SEED_AT, from->scatter_seed);
}

static inline void msg_plan_leg_read(struct msg_plan_leg *to, const uint8_t *from) {
    if (LIES_AS_SENT(struct msg_plan_leg, MSG_PLAN_LEG_BYTES)) {
        memcpy(to, from, MSG_PLAN_LEG_BYTES);
        return;
    }
    to->token = get_u32(from + MSG_PLAN_LEG_TOKEN_AT);
    to->generation = from[MSG_PLAN_LEG_GENERATION_AT];
    to->index = from[MSG_PLAN_LEG_INDEX_AT];
    to->end_action = from[MSG_PLAN_LEG_END_ACTION_AT];
    to->spindle = (int8_t)from[MSG_PLAN_LEG_SPINDLE_AT];
    to->end_count = (int32_t)get_u32(from + MSG_PLAN_LEG_END_COUNT_AT);
    to->rate_mcps = get_u32(from + MSG_PLAN_LEG_RATE_MCPS_AT);
    to->accel_mcps2 = get_u32(from + MSG_PLAN_LEG_ACCEL_MCPS2_AT);
    to->creep_mcps = get_u32(from + MSG_PLAN_LEG_CREEP_MCPS_AT);
    to->coast_counts = get_u16(from + MSG_PLAN_LEG_COAST_COUNTS_AT);
    to->pitch_nm = get_u32(from + MSG_PLAN_LEG_PITCH_NM_AT);
    to->pitch_counts = get_u16(from + MSG_PLAN_LEG_PITCH_COUNTS_AT);
    to->left_um = (int32_t)get_u32(from + MSG_PLAN_LEG_LEFT_UM_AT);
    to->right_um = (int32_t)get_u32(from + MSG_PLAN_LEG_RIGHT_UM_AT);
    to->dwell_counts = get_u16(from + MSG_PLAN_LEG_DWELL_COUNTS_AT);
    to->scatter_seed = get_u16(from + MSG_PLAN_LEG_SCATTER_SEED_AT);
}

/* PlanCommit: payload bytes, and where each field begins */
enum {
    MSG_PLAN_COMMIT_BYTES = 17,
    MSG_PLAN_COMMIT_TOKEN_AT = 0,
    MSG_PLAN_COMMIT_BOOT_AT = 4,
    MSG_PLAN_COMMIT_WIND_AT = 6,
    MSG_PLAN_COMMIT_REVISION_AT = 10,
    MSG_PLAN_COMMIT_GENERATION_AT = 12,
    MSG_PLAN_COMMIT_CHECKSUM_AT = 13,
};
_Static_assert(MSG_PLAN_COMMIT_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

struct msg_plan_commit {
    uint32_t token;
    uint16_t boot;
    uint32_t wind;
    uint16_t revision;
    uint8_t generation;
    uint32_t checksum;
};

_Static_assert(MSG_PLAN_COMMIT_CHECKSUM_AT + sizeof(((struct msg_plan_commit *)0)->checksum) == MSG_PLAN_COMMIT_BYTES, "nothing behind the last field");

static inline void msg_plan_commit_write(uint8_t *to, const struct msg_plan_commit *from) {
    if (LIES_AS_SENT(struct msg_plan_commit, MSG_PLAN_COMMIT_BYTES)) {
        memcpy(to, from, MSG_PLAN_COMMIT_BYTES);
        return;
    }
    put_u32(to + MSG_PLAN_COMMIT_TOKEN_AT, from->token);
    put_u16(to + MSG_PLAN_COMMIT_BOOT_AT, from->boot);
    put_u32(to + MSG_PLAN_COMMIT_WIND_AT, from->wind);
    put_u16(to + MSG_PLAN_COMMIT_REVISION_AT, from->revision);
    to[MSG_PLAN_COMMIT_GENERATION_AT] = from->generation;
    put_u32(to + MSG_PLAN_COMMIT_CHECKSUM_AT, from->checksum);
}

static inline void msg_plan_commit_read(struct msg_plan_commit *to, const uint8_t *from) {
    if (LIES_AS_SENT(struct msg_plan_commit, MSG_PLAN_COMMIT_BYTES)) {
        memcpy(to, from, MSG_PLAN_COMMIT_BYTES);
        return;
    }
    to->token = get_u32(from + MSG_PLAN_COMMIT_TOKEN_AT);
    to->boot = get_u16(from + MSG_PLAN_COMMIT_BOOT_AT);
    to->wind = get_u32(from + MSG_PLAN_COMMIT_WIND_AT);
    to->revision = get_u16(from + MSG_PLAN_COMMIT_REVISION_AT);
    to->generation = from[MSG_PLAN_COMMIT_GENERATION_AT];
    to->checksum = get_u32(from + MSG_PLAN_COMMIT_CHECKSUM_AT);
}

/* ArmPedal: payload bytes, and where each field begins */
enum {
    MSG_ARM_PEDAL_BYTES = 13,
    MSG_ARM_PEDAL_TOKEN_AT = 0,
    MSG_ARM_PEDAL_BOOT_AT = 4,
    MSG_ARM_PEDAL_WIND_AT = 6,
    MSG_ARM_PEDAL_REVISION_AT = 10,
    MSG_ARM_PEDAL_GENERATION_AT = 12,
};
_Static_assert(MSG_ARM_PEDAL_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

struct msg_arm_pedal {
    uint32_t token;
    uint16_t boot;
    uint32_t wind;
    uint16_t revision;
    uint8_t generation;
};

_Static_assert(MSG_ARM_PEDAL_GENERATION_AT + sizeof(((struct msg_arm_pedal *)0)->generation) == MSG_ARM_PEDAL_BYTES, "nothing behind the last field");

static inline void msg_arm_pedal_write(uint8_t *to, const struct msg_arm_pedal *from) {
    if (LIES_AS_SENT(struct msg_arm_pedal, MSG_ARM_PEDAL_BYTES)) {
        memcpy(to, from, MSG_ARM_PEDAL_BYTES);
        return;
    }
    put_u32(to + MSG_ARM_PEDAL_TOKEN_AT, from->token);
    put_u16(to + MSG_ARM_PEDAL_BOOT_AT, from->boot);
    put_u32(to + MSG_ARM_PEDAL_WIND_AT, from->wind);
    put_u16(to + MSG_ARM_PEDAL_REVISION_AT, from->revision);
    to[MSG_ARM_PEDAL_GENERATION_AT] = from->generation;
}

static inline void msg_arm_pedal_read(struct msg_arm_pedal *to, const uint8_t *from) {
    if (LIES_AS_SENT(struct msg_arm_pedal, MSG_ARM_PEDAL_BYTES)) {
        memcpy(to, from, MSG_ARM_PEDAL_BYTES);
        return;
    }
    to->token = get_u32(from + MSG_ARM_PEDAL_TOKEN_AT);
    to->boot = get_u16(from + MSG_ARM_PEDAL_BOOT_AT);
    to->wind = get_u32(from + MSG_ARM_PEDAL_WIND_AT);
    to->revision = get_u16(from + MSG_ARM_PEDAL_REVISION_AT);
    to->generation = from[MSG_ARM_PEDAL_GENERATION_AT];
}

/* ReadSettings: payload bytes, and where each field begins */
enum {
    MSG_READ_SETTINGS_BYTES = 0,
};
_Static_assert(MSG_READ_SETTINGS_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

/* WriteSettings: payload bytes, and where each field begins */
enum {
    MSG_WRITE_SETTINGS_BYTES = 52,
    MSG_WRITE_SETTINGS_TOKEN_AT = 0,
    MSG_WRITE_SETTINGS_BOOT_AT = 4,
    MSG_WRITE_SETTINGS_REVISION_AT = 6,
    MSG_WRITE_SETTINGS_NUMBER_AT = 8,
    MSG_WRITE_SETTINGS_SENSOR_AT = 12,
    MSG_WRITE_SETTINGS_FILTER_US_AT = 13,
    MSG_WRITE_SETTINGS_BOUNCE_US_AT = 14,
    MSG_WRITE_SETTINGS_LEAST_PERIOD_US_AT = 16,
    MSG_WRITE_SETTINGS_DRIVER_AT = 18,
    MSG_WRITE_SETTINGS_LOW_AT = 19,
    MSG_WRITE_SETTINGS_INPUTS_AT = 20,
    MSG_WRITE_SETTINGS_LINE_AT = 21,
    MSG_WRITE_SETTINGS_DEAD_MS_AT = 22,
    MSG_WRITE_SETTINGS_RATE_MAX_MCPS_AT = 23,
    MSG_WRITE_SETTINGS_FULL_RATE_MCPS_AT = 27,
    MSG_WRITE_SETTINGS_FULL_ACCEL_MCPS2_AT = 31,
    MSG_WRITE_SETTINGS_FRICTION_PERMILLE_AT = 35,
    MSG_WRITE_SETTINGS_BRAKE_PERMILLE_AT = 37,
    MSG_WRITE_SETTINGS_CUT_MS_AT = 39,
    MSG_WRITE_SETTINGS_REST_MS_AT = 41,
    MSG_WRITE_SETTINGS_STEP_PM_AT = 43,
    MSG_WRITE_SETTINGS_TRAVEL_STEPS_AT = 47,
    MSG_WRITE_SETTINGS_STEPS_A_MS_AT = 51,
};
_Static_assert(MSG_WRITE_SETTINGS_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

struct msg_write_settings {
    uint32_t token;
    uint16_t boot;
    uint16_t revision;
    uint32_t number;
    uint8_t sensor; /* Sensor */
    uint8_t filter_us; /* us */
    uint16_t bounce_us; /* us */
    uint16_t least_period_us; /* us */
    uint8_t driver; /* Driver */
    uint8_t low; /* bits, Low */
    uint8_t inputs; /* bits, Wired */
    uint8_t line; /* LineSpeed */
    uint8_t dead_ms; /* ms */
    uint32_t rate_max_mcps; /* 0.001 counts/s */
    uint32_t full_rate_mcps; /* 0.001 counts/s */
    uint32_t full_accel_mcps2; /* 0.001 counts/s2 */
    uint16_t friction_permille; /* 0.001 */
    uint16_t brake_permille; /* 0.001 */
    uint16_t cut_ms; /* ms */
    uint16_t rest_ms; /* ms */
    uint32_t step_pm; /* pm */
    uint32_t travel_steps; /* steps */
    uint8_t steps_a_ms; /* steps/ms */
};

_Static_assert(MSG_WRITE_SETTINGS_STEPS_A_MS_AT + sizeof(((struct msg_write_settings *)0)->steps_a_ms) == MSG_WRITE_SETTINGS_BYTES, "nothing behind the last field");

static inline void msg_write_settings_write(uint8_t *to, const struct msg_write_settings *from) {
    if (LIES_AS_SENT(struct msg_write_settings, MSG_WRITE_SETTINGS_BYTES)) {
        memcpy(to, from, MSG_WRITE_SETTINGS_BYTES);
        return;
    }
    put_u32(to + MSG_WRITE_SETTINGS_TOKEN_AT, from->token);
    put_u16(to + MSG_WRITE_SETTINGS_BOOT_AT, from->boot);
    put_u16(to + MSG_WRITE_SETTINGS_REVISION_AT, from->revision);
    put_u32(to + MSG_WRITE_SETTINGS_NUMBER_AT, from->number);
    to[MSG_WRITE_SETTINGS_SENSOR_AT] = from->sensor;
    to[MSG_WRITE_SETTINGS_FILTER_US_AT] = from->filter_us;
    put_u16(to + MSG_WRITE_SETTINGS_BOUNCE_US_AT, from->bounce_us);
    put_u16(to + MSG_WRITE_SETTINGS_LEAST_PERIOD_US_AT, from->least_period_us);
    to[MSG_WRITE_SETTINGS_DRIVER_AT] = from->driver;
    to[MSG_WRITE_SETTINGS_LOW_AT] = from->low;
    to[MSG_WRITE_SETTINGS_INPUTS_AT] = from->inputs;
    to[MSG_WRITE_SETTINGS_LINE_AT] = from->line;
    to[MSG_WRITE_SETTINGS_DEAD_MS_AT] = from->dead_ms;
    put_u32(to + MSG_WRITE_SETTINGS_RATE_MAX_MCPS_AT, from->rate_max_mcps);
    put_u32(to + MSG_WRITE_SETTINGS_FULL_RATE_MCPS_AT, from->full_rate_mcps);
    put_u32(to + MSG_WRITE_SETTINGS_FULL_ACCEL_MCPS2_AT, from->full_accel_mcps2);
    put_u16(to + MSG_WRITE_SETTINGS_FRICTION_PERMILLE_AT, from->friction_permille);
    put_u16(to + MSG_WRITE_SETTINGS_BRAKE_PERMILLE_AT, from->brake_permille);
    put_u16(to + MSG_WRITE_SETTINGS_CUT_MS_AT, from->cut_ms);
    put_u16(to + MSG_WRITE_SETTINGS_REST_MS_AT, from->rest_ms);
    put_u32(to + MSG_WRITE_SETTINGS_STEP_PM_AT, from->step_pm);
    put_u32(to + MSG_WRITE_SETTINGS_TRAVEL_STEPS_AT, from->travel_steps);
    to[MSG_WRITE_SETTINGS_STEPS_A_MS_AT] = from->steps_a_ms;
}

static inline void msg_write_settings_read(struct msg_write_settings *to, const uint8_t *from) {
    if (LIES_AS_SENT(struct msg_write_settings, MSG_WRITE_SETTINGS_BYTES)) {
        memcpy(to, from, MSG_WRITE_SETTINGS_BYTES);
        return;
    }
    to->token = get_u32(from + MSG_WRITE_SETTINGS_TOKEN_AT);
    to->boot = get_u16(from + MSG_WRITE_SETTINGS_BOOT_AT);
    to->revision = get_u16(from + MSG_WRITE_SETTINGS_REVISION_AT);
    to->number = get_u32(from + MSG_WRITE_SETTINGS_NUMBER_AT);
    to->sensor = from[MSG_WRITE_SETTINGS_SENSOR_AT];
    to->filter_us = from[MSG_WRITE_SETTINGS_FILTER_US_AT];
    to->bounce_us = get_u16(from + MSG_WRITE_SETTINGS_BOUNCE_US_AT);
    to->least_period_us = get_u16(from + MSG_WRITE_SETTINGS_LEAST_PERIOD_US_AT);
    to->driver = from[MSG_WRITE_SETTINGS_DRIVER_AT];
    to->low = from[MSG_WRITE_SETTINGS_LOW_AT];
    to->inputs = from[MSG_WRITE_SETTINGS_INPUTS_AT];
    to->line = from[MSG_WRITE_SETTINGS_LINE_AT];
    to->dead_ms = from[MSG_WRITE_SETTINGS_DEAD_MS_AT];
    to->rate_max_mcps = get_u32(from + MSG_WRITE_SETTINGS_RATE_MAX_MCPS_AT);
    to->full_rate_mcps = get_u32(from + MSG_WRITE_SETTINGS_FULL_RATE_MCPS_AT);
    to->full_accel_mcps2 = get_u32(from + MSG_WRITE_SETTINGS_FULL_ACCEL_MCPS2_AT);
    to->friction_permille = get_u16(from + MSG_WRITE_SETTINGS_FRICTION_PERMILLE_AT);
    to->brake_permille = get_u16(from + MSG_WRITE_SETTINGS_BRAKE_PERMILLE_AT);
    to->cut_ms = get_u16(from + MSG_WRITE_SETTINGS_CUT_MS_AT);
    to->rest_ms = get_u16(from + MSG_WRITE_SETTINGS_REST_MS_AT);
    to->step_pm = get_u32(from + MSG_WRITE_SETTINGS_STEP_PM_AT);
    to->travel_steps = get_u32(from + MSG_WRITE_SETTINGS_TRAVEL_STEPS_AT);
    to->steps_a_ms = from[MSG_WRITE_SETTINGS_STEPS_A_MS_AT];
}

/* Welcome: payload bytes, and where each field begins */
enum {
    MSG_WELCOME_BYTES = 54,
    MSG_WELCOME_BASE_VERSION_AT = 0,
    MSG_WELCOME_TOKEN_AT = 1,
    MSG_WELCOME_BOOT_AT = 5,
    MSG_WELCOME_UPTIME_MS_AT = 7,
    MSG_WELCOME_BOARD_AT = 11,
    MSG_WELCOME_GROUPS_AT = 21,
    MSG_WELCOME_HAS_AT = 27,
    MSG_WELCOME_LEGS_MAX_AT = 28,
    MSG_WELCOME_RATE_MAX_MCPS_AT = 29,
    MSG_WELCOME_EDGE_RATE_MAX_CPS_AT = 33,
    MSG_WELCOME_SETTINGS_HASH_AT = 37,
    MSG_WELCOME_KEPT_WIND_AT = 41,
    MSG_WELCOME_KEPT_COUNT_AT = 45,
    MSG_WELCOME_KEPT_FLAGS_AT = 49,
    MSG_WELCOME_CUT_MS_AT = 50,
    MSG_WELCOME_REST_MS_AT = 52,
};
_Static_assert(MSG_WELCOME_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

struct msg_welcome {
    uint8_t base_version;
    uint32_t token;
    uint16_t boot;
    uint32_t uptime_ms; /* ms */
    char board[10];
    uint8_t groups[6];
    uint8_t has; /* bits, Has */
    uint8_t legs_max;
    uint32_t rate_max_mcps; /* 0.001 counts/s */
    uint32_t edge_rate_max_cps; /* counts/s */
    uint32_t settings_hash;
    uint32_t kept_wind;
    int32_t kept_count; /* counts */
    uint8_t kept_flags; /* bits, Kept */
    uint16_t cut_ms; /* ms */
    uint16_t rest_ms; /* ms */
};

_Static_assert(MSG_WELCOME_REST_MS_AT + sizeof(((struct msg_welcome *)0)->rest_ms) == MSG_WELCOME_BYTES, "nothing behind the last field");

static inline void msg_welcome_write(uint8_t *to, const struct msg_welcome *from) {
    if (LIES_AS_SENT(struct msg_welcome, MSG_WELCOME_BYTES)) {
        memcpy(to, from, MSG_WELCOME_BYTES);
        return;
    }
    to[MSG_WELCOME_BASE_VERSION_AT] = from->base_version;
    put_u32(to + MSG_WELCOME_TOKEN_AT, from->token);
    put_u16(to + MSG_WELCOME_BOOT_AT, from->boot);
    put_u32(to + MSG_WELCOME_UPTIME_MS_AT, from->uptime_ms);
    memcpy(to + MSG_WELCOME_BOARD_AT, from->board, 10);
    memcpy(to + MSG_WELCOME_GROUPS_AT, from->groups, 6);
    to[MSG_WELCOME_HAS_AT] = from->has;
    to[MSG_WELCOME_LEGS_MAX_AT] = from->legs_max;
    put_u32(to + MSG_WELCOME_RATE_MAX_MCPS_AT, from->rate_max_mcps);
    put_u32(to + MSG_WELCOME_EDGE_RATE_MAX_CPS_AT, from->edge_rate_max_cps);
    put_u32(to + MSG_WELCOME_SETTINGS_HASH_AT, from->settings_hash);
    put_u32(to + MSG_WELCOME_KEPT_WIND_AT, from->kept_wind);
    put_u32(to + MSG_WELCOME_KEPT_COUNT_AT, (uint32_t)from->kept_count);
    to[MSG_WELCOME_KEPT_FLAGS_AT] = from->kept_flags;
    put_u16(to + MSG_WELCOME_CUT_MS_AT, from->cut_ms);
    put_u16(to + MSG_WELCOME_REST_MS_AT, from->rest_ms);
}

static inline void msg_welcome_read(struct msg_welcome *to, const uint8_t *from) {
    if (LIES_AS_SENT(struct msg_welcome, MSG_WELCOME_BYTES)) {
        memcpy(to, from, MSG_WELCOME_BYTES);
        return;
    }
    to->base_version = from[MSG_WELCOME_BASE_VERSION_AT];
    to->token = get_u32(from + MSG_WELCOME_TOKEN_AT);
    to->boot = get_u16(from + MSG_WELCOME_BOOT_AT);
    to->uptime_ms = get_u32(from + MSG_WELCOME_UPTIME_MS_AT);
    memcpy(to->board, from + MSG_WELCOME_BOARD_AT, 10);
    memcpy(to->groups, from + MSG_WELCOME_GROUPS_AT, 6);
    to->has = from[MSG_WELCOME_HAS_AT];
    to->legs_max = from[MSG_WELCOME_LEGS_MAX_AT];
    to->rate_max_mcps = get_u32(from + MSG_WELCOME_RATE_MAX_MCPS_AT);
    to->edge_rate_max_cps = get_u32(from + MSG_WELCOME_EDGE_RATE_MAX_CPS_AT);
    to->settings_hash = get_u32(from + MSG_WELCOME_SETTINGS_HASH_AT);
    to->kept_wind = get_u32(from + MSG_WELCOME_KEPT_WIND_AT);
    to->kept_count = (int32_t)get_u32(from + MSG_WELCOME_KEPT_COUNT_AT);
    to->kept_flags = from[MSG_WELCOME_KEPT_FLAGS_AT];
    to->cut_ms = get_u16(from + MSG_WELCOME_CUT_MS_AT);
    to->rest_ms = get_u16(from + MSG_WELCOME_REST_MS_AT);
}

/* Status: payload bytes, and where each field begins */
enum {
    MSG_STATUS_BYTES = 34,
    MSG_STATUS_STATE_AT = 0,
    MSG_STATUS_REASON_AT = 1,
    MSG_STATUS_TRIP_AT = 2,
    MSG_STATUS_FLAGS_AT = 3,
    MSG_STATUS_COUNT_AT = 4,
    MSG_STATUS_UNATTRIBUTED_AT = 8,
    MSG_STATUS_RATE_MCPS_AT = 10,
    MSG_STATUS_TRAVERSE_UM_AT = 14,
    MSG_STATUS_LEG_AT = 18,
    MSG_STATUS_GENERATION_AT = 19,
    MSG_STATUS_WIND_AT = 20,
    MSG_STATUS_BOOT_AT = 24,
    MSG_STATUS_UPTIME_MS_AT = 26,
    MSG_STATUS_REVISION_AT = 30,
    MSG_STATUS_IMPLAUSIBLE_AT = 32,
};
_Static_assert(MSG_STATUS_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

struct msg_status {
    uint8_t state; /* State */
    uint8_t reason; /* Reason */
    uint8_t trip; /* Trip */
    uint8_t flags; /* bits, Flag */
    int32_t count; /* counts */
    uint16_t unattributed; /* counts */
    int32_t rate_mcps; /* 0.001 counts/s */
    int32_t traverse_um; /* um */
    uint8_t leg;
    uint8_t generation;
    uint32_t wind;
    uint16_t boot;
    uint32_t uptime_ms; /* ms */
    uint16_t revision;
    uint16_t implausible; /* counts */
};

_Static_assert(MSG_STATUS_IMPLAUSIBLE_AT + sizeof(((struct msg_status *)0)->implausible) == MSG_STATUS_BYTES, "nothing behind the last field");

static inline void msg_status_write(uint8_t *to, const struct msg_status *from) {
    if (LIES_AS_SENT(struct msg_status, MSG_STATUS_BYTES)) {
        memcpy(to, from, MSG_STATUS_BYTES);
        return;
    }
    to[MSG_STATUS_STATE_AT] = from->state;
    to[MSG_STATUS_REASON_AT] = from->reason;
    to[MSG_STATUS_TRIP_AT] = from->trip;
    to[MSG_STATUS_FLAGS_AT] = from->flags;
    put_u32(to + MSG_STATUS_COUNT_AT, (uint32_t)from->count);
    put_u16(to + MSG_STATUS_UNATTRIBUTED_AT, from->unattributed);
    put_u32(to + MSG_STATUS_RATE_MCPS_AT, (uint32_t)from->rate_mcps);
    put_u32(to + MSG_STATUS_TRAVERSE_UM_AT, (uint32_t)from->traverse_um);
    to[MSG_STATUS_LEG_AT] = from->leg;
    to[MSG_STATUS_GENERATION_AT] = from->generation;
    put_u32(to + MSG_STATUS_WIND_AT, from->wind);
    put_u16(to + MSG_STATUS_BOOT_AT, from->boot);
    put_u32(to + MSG_STATUS_UPTIME_MS_AT, from->uptime_ms);
    put_u16(to + MSG_STATUS_REVISION_AT, from->revision);
    put_u16(to + MSG_STATUS_IMPLAUSIBLE_AT, from->implausible);
}

static inline void msg_status_read(struct msg_status *to, const uint8_t *from) {
    if (LIES_AS_SENT(struct msg_status, MSG_STATUS_BYTES)) {
        memcpy(to, from, MSG_STATUS_BYTES);
        return;
    }
    to->state = from[MSG_STATUS_STATE_AT];
    to->reason = from[MSG_STATUS_REASON_AT];
    to->trip = from[MSG_STATUS_TRIP_AT];
    to->flags = from[MSG_STATUS_FLAGS_AT];
    to->count = (int32_t)get_u32(from + MSG_STATUS_COUNT_AT);
    to->unattributed = get_u16(from + MSG_STATUS_UNATTRIBUTED_AT);
    to->rate_mcps = (int32_t)get_u32(from + MSG_STATUS_RATE_MCPS_AT);
    to->traverse_um = (int32_t)get_u32(from + MSG_STATUS_TRAVERSE_UM_AT);
    to->leg = from[MSG_STATUS_LEG_AT];
    to->generation = from[MSG_STATUS_GENERATION_AT];
    to->wind = get_u32(from + MSG_STATUS_WIND_AT);
    to->boot = get_u16(from + MSG_STATUS_BOOT_AT);
    to->uptime_ms = get_u32(from + MSG_STATUS_UPTIME_MS_AT);
    to->revision = get_u16(from + MSG_STATUS_REVISION_AT);
    to->implausible = get_u16(from + MSG_STATUS_IMPLAUSIBLE_AT);
}

/* Answer: payload bytes, and where each field begins */
enum {
    MSG_ANSWER_BYTES = 8,
    MSG_ANSWER_TO_AT = 0,
    MSG_ANSWER_VERDICT_AT = 1,
    MSG_ANSWER_REVISION_AT = 2,
    MSG_ANSWER_DETAIL_AT = 4,
};
_Static_assert(MSG_ANSWER_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

struct msg_answer {
    uint8_t to;
    uint8_t verdict; /* Verdict */
    uint16_t revision;
    uint32_t detail;
};

_Static_assert(MSG_ANSWER_DETAIL_AT + sizeof(((struct msg_answer *)0)->detail) == MSG_ANSWER_BYTES, "nothing behind the last field");

static inline void msg_answer_write(uint8_t *to, const struct msg_answer *from) {
    if (LIES_AS_SENT(struct msg_answer, MSG_ANSWER_BYTES)) {
        memcpy(to, from, MSG_ANSWER_BYTES);
        return;
    }
    to[MSG_ANSWER_TO_AT] = from->to;
    to[MSG_ANSWER_VERDICT_AT] = from->verdict;
    put_u16(to + MSG_ANSWER_REVISION_AT, from->revision);
    put_u32(to + MSG_ANSWER_DETAIL_AT, from->detail);
}

static inline void msg_answer_read(struct msg_answer *to, const uint8_t *from) {
    if (LIES_AS_SENT(struct msg_answer, MSG_ANSWER_BYTES)) {
        memcpy(to, from, MSG_ANSWER_BYTES);
        return;
    }
    to->to = from[MSG_ANSWER_TO_AT];
    to->verdict = from[MSG_ANSWER_VERDICT_AT];
    to->revision = get_u16(from + MSG_ANSWER_REVISION_AT);
    to->detail = get_u32(from + MSG_ANSWER_DETAIL_AT);
}

/* PedalStatus: payload bytes, and where each field begins */
enum {
    MSG_PEDAL_STATUS_BYTES = 3,
    MSG_PEDAL_STATUS_FLAGS_AT = 0,
    MSG_PEDAL_STATUS_REVISION_AT = 1,
};
_Static_assert(MSG_PEDAL_STATUS_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

struct msg_pedal_status {
    uint8_t flags; /* bits, PedalFlag */
    uint16_t revision;
};

_Static_assert(MSG_PEDAL_STATUS_REVISION_AT + sizeof(((struct msg_pedal_status *)0)->revision) == MSG_PEDAL_STATUS_BYTES, "nothing behind the last field");

static inline void msg_pedal_status_write(uint8_t *to, const struct msg_pedal_status *from) {
    if (LIES_AS_SENT(struct msg_pedal_status, MSG_PEDAL_STATUS_BYTES)) {
        memcpy(to, from, MSG_PEDAL_STATUS_BYTES);
        return;
    }
    to[MSG_PEDAL_STATUS_FLAGS_AT] = from->flags;
    put_u16(to + MSG_PEDAL_STATUS_REVISION_AT, from->revision);
}

static inline void msg_pedal_status_read(struct msg_pedal_status *to, const uint8_t *from) {
    if (LIES_AS_SENT(struct msg_pedal_status, MSG_PEDAL_STATUS_BYTES)) {
        memcpy(to, from, MSG_PEDAL_STATUS_BYTES);
        return;
    }
    to->flags = from[MSG_PEDAL_STATUS_FLAGS_AT];
    to->revision = get_u16(from + MSG_PEDAL_STATUS_REVISION_AT);
}

/* Settings: payload bytes, and where each field begins */
enum {
    MSG_SETTINGS_BYTES = 44,
    MSG_SETTINGS_NUMBER_AT = 0,
    MSG_SETTINGS_SENSOR_AT = 4,
    MSG_SETTINGS_FILTER_US_AT = 5,
    MSG_SETTINGS_BOUNCE_US_AT = 6,
    MSG_SETTINGS_LEAST_PERIOD_US_AT = 8,
    MSG_SETTINGS_DRIVER_AT = 10,
    MSG_SETTINGS_LOW_AT = 11,
    MSG_SETTINGS_INPUTS_AT = 12,
    MSG_SETTINGS_LINE_AT = 13,
    MSG_SETTINGS_DEAD_MS_AT = 14,
    MSG_SETTINGS_RATE_MAX_MCPS_AT = 15,
    MSG_SETTINGS_FULL_RATE_MCPS_AT = 19,
    MSG_SETTINGS_FULL_ACCEL_MCPS2_AT = 23,
    MSG_SETTINGS_FRICTION_PERMILLE_AT = 27,
    MSG_SETTINGS_BRAKE_PERMILLE_AT = 29,
    MSG_SETTINGS_CUT_MS_AT = 31,
    MSG_SETTINGS_REST_MS_AT = 33,
    MSG_SETTINGS_STEP_PM_AT = 35,
    MSG_SETTINGS_TRAVEL_STEPS_AT = 39,
    MSG_SETTINGS_STEPS_A_MS_AT = 43,
};
_Static_assert(MSG_SETTINGS_BYTES <= PAYLOAD_BYTES_MAX, "fits a frame");

struct msg_settings {
    uint32_t number;
    uint8_t sensor; /* Sensor */
    uint8_t filter_us; /* us */
    uint16_t bounce_us; /* us */
    uint16_t least_period_us; /* us */
    uint8_t driver; /* Driver */
    uint8_t low; /* bits, Low */
    uint8_t inputs; /* bits, Wired */
    uint8_t line; /* LineSpeed */
    uint8_t dead_ms; /* ms */
    uint32_t rate_max_mcps; /* 0.001 counts/s */
    uint32_t full_rate_mcps; /* 0.001 counts/s */
    uint32_t full_accel_mcps2; /* 0.001 counts/s2 */
    uint16_t friction_permille; /* 0.001 */
    uint16_t brake_permille; /* 0.001 */
    uint16_t cut_ms; /* ms */
    uint16_t rest_ms; /* ms */
    uint32_t step_pm; /* pm */
    uint32_t travel_steps; /* steps */
    uint8_t steps_a_ms; /* steps/ms */
};

_Static_assert(MSG_SETTINGS_STEPS_A_MS_AT + sizeof(((struct msg_settings *)0)->steps_a_ms) == MSG_SETTINGS_BYTES, "nothing behind the last field");

static inline void msg_settings_write(uint8_t *to, const struct msg_settings *from) {
    if (LIES_AS_SENT(struct msg_settings, MSG_SETTINGS_BYTES)) {
        memcpy(to, from, MSG_SETTINGS_BYTES);
        return;
    }
    put_u32(to + MSG_SETTINGS_NUMBER_AT, from->number);
    to[MSG_SETTINGS_SENSOR_AT] = from->sensor;
    to[MSG_SETTINGS_FILTER_US_AT] = from->filter_us;
    put_u16(to + MSG_SETTINGS_BOUNCE_US_AT, from->bounce_us);
    put_u16(to + MSG_SETTINGS_LEAST_PERIOD_US_AT, from->least_period_us);
    to[MSG_SETTINGS_DRIVER_AT] = from->driver;
    to[MSG_SETTINGS_LOW_AT] = from->low;
    to[MSG_SETTINGS_INPUTS_AT] = from->inputs;
    to[MSG_SETTINGS_LINE_AT] = from->line;
    to[MSG_SETTINGS_DEAD_MS_AT] = from->dead_ms;
    put_u32(to + MSG_SETTINGS_RATE_MAX_MCPS_AT, from->rate_max_mcps);
    put_u32(to + MSG_SETTINGS_FULL_RATE_MCPS_AT, from->full_rate_mcps);
    put_u32(to + MSG_SETTINGS_FULL_ACCEL_MCPS2_AT, from->full_accel_mcps2);
    put_u16(to + MSG_SETTINGS_FRICTION_PERMILLE_AT, from->friction_permille);
    put_u16(to + MSG_SETTINGS_BRAKE_PERMILLE_AT, from->brake_permille);
    put_u16(to + MSG_SETTINGS_CUT_MS_AT, from->cut_ms);
    put_u16(to + MSG_SETTINGS_REST_MS_AT, from->rest_ms);
    put_u32(to + MSG_SETTINGS_STEP_PM_AT, from->step_pm);
    put_u32(to + MSG_SETTINGS_TRAVEL_STEPS_AT, from->travel_steps);
    to[MSG_SETTINGS_STEPS_A_MS_AT] = from->steps_a_ms;
}

static inline void msg_settings_read(struct msg_settings *to, const uint8_t *from) {
    if (LIES_AS_SENT(struct msg_settings, MSG_SETTINGS_BYTES)) {
        memcpy(to, from, MSG_SETTINGS_BYTES);
        return;
    }
    to->number = get_u32(from + MSG_SETTINGS_NUMBER_AT);
    to->sensor = from[MSG_SETTINGS_SENSOR_AT];
    to->filter_us = from[MSG_SETTINGS_FILTER_US_AT];
    to->bounce_us = get_u16(from + MSG_SETTINGS_BOUNCE_US_AT);
    to->least_period_us = get_u16(from + MSG_SETTINGS_LEAST_PERIOD_US_AT);
    to->driver = from[MSG_SETTINGS_DRIVER_AT];
    to->low = from[MSG_SETTINGS_LOW_AT];
    to->inputs = from[MSG_SETTINGS_INPUTS_AT];
    to->line = from[MSG_SETTINGS_LINE_AT];
    to->dead_ms = from[MSG_SETTINGS_DEAD_MS_AT];
    to->rate_max_mcps = get_u32(from + MSG_SETTINGS_RATE_MAX_MCPS_AT);
    to->full_rate_mcps = get_u32(from + MSG_SETTINGS_FULL_RATE_MCPS_AT);
    to->full_accel_mcps2 = get_u32(from + MSG_SETTINGS_FULL_ACCEL_MCPS2_AT);
    to->friction_permille = get_u16(from + MSG_SETTINGS_FRICTION_PERMILLE_AT);
    to->brake_permille = get_u16(from + MSG_SETTINGS_BRAKE_PERMILLE_AT);
    to->cut_ms = get_u16(from + MSG_SETTINGS_CUT_MS_AT);
    to->rest_ms = get_u16(from + MSG_SETTINGS_REST_MS_AT);
    to->step_pm = get_u32(from + MSG_SETTINGS_STEP_PM_AT);
    to->travel_steps = get_u32(from + MSG_SETTINGS_TRAVEL_STEPS_AT);
    to->steps_a_ms = from[MSG_SETTINGS_STEPS_A_MS_AT];
}

#endif
