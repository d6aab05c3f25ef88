#include "device.h"

#include "far.h"
#include "link.h"
#include "pedal.h"

#define FIRST_BOARD_KIND 0x80
#define NO_TOKEN 0

struct device device;

struct command {
    uint8_t kind, bytes, group, states, belief, wind;
};

#define X(kind, bytes, group, states, belief, wind) {kind, bytes, group, states, belief, wind},
static const PORT_FLASH struct command commands[] = {
    NUMBERED_COMMANDS(X)
#if CORE_PEDAL
    PEDAL_COMMANDS(X)
#endif
#if CORE_FAR
    FAR_COMMANDS(X)
#endif
};
#undef X

static bool find_command(struct command *found, uint8_t kind) {
    for (uint8_t i = 0; i < sizeof commands / sizeof commands[0]; i++) {
        const struct command *here = &commands[i];
        if (PORT_FLASH_U8(&here->kind) != kind)
            continue;
        found->kind = kind;
        found->bytes = PORT_FLASH_U8(&here->bytes);
        found->group = PORT_FLASH_U8(&here->group);
        found->states = PORT_FLASH_U8(&here->states);
        found->belief = PORT_FLASH_U8(&here->belief);
        found->wind = PORT_FLASH_U8(&here->wind);
        return true;
    }
    return false;
}

/* --- what is sent ------------------------------------------------------------------------------ */

static void answer_payload_of(uint8_t *to, uint8_t kind, uint8_t verdict, uint32_t detail) {
    struct msg_answer answer = {
        .to = kind, .verdict = verdict, .revision = board.revision, .detail = detail};
    msg_answer_write(to, &answer);
}

static void answer(uint8_t sequence, uint8_t kind, uint8_t verdict, uint32_t detail) {
    uint8_t payload[MSG_ANSWER_BYTES];
    answer_payload_of(payload, kind, verdict, detail);
    link_put_frame(KIND_ANSWER, sequence, payload, sizeof payload);
}

static void send_remembered(void) {
    link_put_frame(KIND_ANSWER, device.last_sequence, device.answer_payload, MSG_ANSWER_BYTES);
}

static void send_welcome(uint32_t token) {
    struct kept_record kept;
    body_kept(&kept);
    identity.base_version = PROTOCOL_BASE_VERSION;
    identity.token = token;
    identity.boot = device.boot;
    identity.uptime_ms = board_uptime_ms();
    identity.kept_wind = kept.wind;
    identity.kept_count = kept.count;
    identity.kept_flags = (uint8_t)((kept.valid ? KEPT_VALID : 0) | (kept.at_rest ? KEPT_AT_REST : 0));
    uint8_t payload[MSG_WELCOME_BYTES];
    msg_welcome_write(payload, &identity);
    link_put_frame(KIND_WELCOME, 0, payload, sizeof payload);
}

bool speaks(uint8_t group) {
    return group == GROUP_BASE || identity.groups[group - 1] > 0;
}

static uint8_t flags(void) {
    const struct facts *facts = &board.facts;
    uint8_t bits = 0;
    if (device.lease_live)
        bits |= FLAG_LEASE_LIVE;
    if (board_in_motion())
        bits |= FLAG_DRIVEN;
    if (facts->guard_open)
        bits |= FLAG_GUARD_OPEN;
    if (facts->wire_present)
        bits |= FLAG_WIRE_PRESENT;
#if CORE_MOTOR
    if (board.referenced)
        bits |= FLAG_REFERENCED;
#endif
    if (facts->traverse_rightward)
        bits |= FLAG_TRAVERSE_RIGHTWARD;
    if (facts->brake_on)
        bits |= FLAG_BRAKE_ON;
#if CORE_PEDAL
    if (facts->stop_pressed)
        bits |= FLAG_STOP_PRESSED;
#endif
    return bits;
}

#if CORE_PEDAL
static void send_pedal_status(void) {
    struct msg_pedal_status status = {.flags = pedal_flags(), .revision = board.revision};
    uint8_t payload[MSG_PEDAL_STATUS_BYTES];
    msg_pedal_status_write(payload, &status);
    link_put_frame(KIND_PEDAL_STATUS, 0, payload, sizeof payload);
}
#endif

static void send_status(void) {
    struct msg_status status;
    const struct facts *facts = &board.facts;
    status.state = board.state;
    status.reason = board.reason;
    status.trip = board.trip;
    status.flags = flags();
    status.count = facts->count;
    status.unattributed = facts->unattributed;
    status.rate_mcps = facts->rate_mcps;
    status.traverse_um = speaks(GROUP_TRAVERSE) ? facts->traverse_um : 0;
    status.leg = board_leg();
#if CORE_MOTOR
    status.generation = plan_in_force()->generation;
#else
    status.generation = 0;
#endif
    status.wind = board.wind;
    status.boot = device.boot;
    status.uptime_ms = board_uptime_ms();
    status.revision = board.revision;
    status.implausible = facts->implausible;
    uint8_t payload[MSG_STATUS_BYTES];
    msg_status_write(payload, &status);
    link_put_frame(KIND_STATUS, 0, payload, sizeof payload);
#if CORE_PEDAL
    if (speaks(GROUP_PEDAL))
        send_pedal_status();
#endif
}

/* --- time -------------------------------------------------------------------------------------- */

void device_boot(uint16_t boot, uint32_t now_ms, bool by_watchdog) {
    memset(&device, 0, sizeof device);
    device.boot = boot;
    device.status_due_ms = now_ms;
    board_boot(now_ms, by_watchdog);
}

static void look(uint32_t now_ms) {
    if (device.lease_live && now_ms - device.alive_ms >= PROTOCOL_LEASE_MS)
        device.lease_live = false;
    board_look(now_ms, device.lease_live);
}

void device_tick(uint32_t now_ms) {
    look(now_ms);
    if ((int32_t)(now_ms - device.status_due_ms) < 0)
        return;
    device.status_due_ms += PROTOCOL_STATUS_PERIOD_MS;
    if ((int32_t)(now_ms - device.status_due_ms) >= 0) /* late: do not catch up */
        device.status_due_ms = now_ms + PROTOCOL_STATUS_PERIOD_MS;
    send_status();
}

/* --- frames ------------------------------------------------------------------------------------ */

static bool is_open(uint32_t token) {
    return token == device.token && token != NO_TOKEN;
}

static void take_alive(const uint8_t *payload) {
    struct msg_alive alive;
    msg_alive_read(&alive, payload);
    if (is_open(alive.token) && alive.number > device.alive_number) {
        device.alive_number = alive.number;
        device.alive_ms = board.now_ms;
        device.lease_live = true;
    }
}

static void open_session(uint32_t token) {
    device.token = token;
    device.alive_number = 0;
    device.last_sequence = 0;
    device.last_kind = 0;
#if CORE_MOTOR
    board.legs_to_load = 0;
#endif
    pedal_disarm();
    board.revision++;
}

static void take_hello(const uint8_t *payload) {
    struct msg_hello hello;
    msg_hello_read(&hello, payload);
    if (hello.base_version == PROTOCOL_BASE_VERSION && !is_open(hello.token)) {
        if (hello.token == NO_TOKEN) {
            answer(0, KIND_HELLO, VERDICT_BAD_VALUE, 1);
            return;
        }
        if (device.lease_live) {
            answer(0, KIND_HELLO, VERDICT_HELD, 0);
            return;
        }
        open_session(hello.token);
    }
    send_welcome(hello.token);
}

static bool is_stale(const struct command *command, const uint8_t *payload) {
    if (command->belief == BELIEF_NONE) /* moves nothing and binds nothing */
        return false;
    if (get_u16(payload + MSG_CLOSE_WIND_BOOT_AT) != device.boot)
        return true;
    if (command->belief == BELIEF_BOOT_REVISION)
        return get_u16(payload + MSG_OPEN_WIND_REVISION_AT) != board.revision;
    return get_u32(payload + MSG_CLOSE_WIND_WIND_AT) != board.wind ||
           get_u16(payload + MSG_CLOSE_WIND_REVISION_AT) != board.revision;
}

static uint8_t judge(const struct command *command, const uint8_t *payload) {
    if (is_stale(command, payload))
        return VERDICT_STALE;
    bool open = board.wind != PROTOCOL_NO_WIND;
    bool wind_wrong = (command->wind == WIND_OPEN && !open) || (command->wind == WIND_NONE && open);
    if (!((command->states >> board.state) & 1u) || wind_wrong)
        return VERDICT_WRONG_STATE;
    return command_carry_out(command->kind, payload);
}

static void take_numbered(const struct command *command, uint8_t sequence, const uint8_t *payload,
                          uint8_t bytes) {
    if (!is_open(get_u32(payload))) { /* every numbered command begins with the token */
        answer(sequence, command->kind, VERDICT_NO_SESSION, 0);
        return;
    }
    if (sequence == device.last_sequence && command->kind == device.last_kind &&
        bytes == device.last_bytes && memcmp(payload, device.last_payload, bytes) == 0) {
        send_remembered();
        return;
    }
    if (sequence != device.last_sequence % 255 + 1) {
        answer(sequence, command->kind, VERDICT_CONFLICT, 0);
        return;
    }
    device.last_sequence = sequence;
    device.last_kind = command->kind;
    device.last_bytes = bytes;
    memcpy(device.last_payload, payload, bytes);
    device.detail = 0;
    uint8_t verdict = judge(command, payload);
    answer_payload_of(device.answer_payload, command->kind, verdict, device.detail);
    send_remembered();
}

static void take_base(uint8_t kind, uint8_t sequence, const uint8_t *payload, uint8_t bytes) {
    if (kind == KIND_STOP) {
        board_stop();
        answer(0, kind, VERDICT_DONE, 0);
    } else if (kind == KIND_CUT && speaks(GROUP_MOTOR)) {
        board_cut();
        answer(0, kind, VERDICT_DONE, 0);
    } else if (kind == KIND_READ_SETTINGS && speaks(GROUP_SETTINGS)) {
        uint8_t content[MSG_SETTINGS_BYTES];
        msg_settings_write(content, &settings);
        link_put_frame(KIND_SETTINGS, 0, content, sizeof content);
    } else if (kind == KIND_ALIVE) { /* a sign of life is never answered */
        if (bytes >= MSG_ALIVE_BYTES)
            take_alive(payload);
    } else if (kind == KIND_HELLO) {
        if (bytes >= MSG_HELLO_BYTES)
            take_hello(payload);
        else
            answer(sequence, kind, VERDICT_MALFORMED, 0);
    } else {
        answer(sequence, kind, VERDICT_UNSUPPORTED, 0);
    }
}

void device_take(uint8_t kind, uint8_t sequence, const uint8_t *payload, uint8_t bytes, uint32_t now_ms) {
    struct command command;
    look(now_ms);
    if (kind >= FIRST_BOARD_KIND) /* can only be an echo, and answering echoes would never end */
        return;
    if (!find_command(&command, kind))
        take_base(kind, sequence, payload, bytes);
    else if (!speaks(command.group) || far_unknown(kind))
        answer(sequence, kind, VERDICT_UNSUPPORTED, 0);
    else if (bytes < command.bytes)
        answer(sequence, kind, VERDICT_MALFORMED, 0);
    else
        take_numbered(&command, sequence, payload, bytes);
}
