/* libFuzzer: the whole core with a spindle under it, driven by a string of deeds.
 *
 * Each deed is a byte and what it takes: raw bytes, a frame whose CRC is made right, the next thing a sensible
 * host would say, time, edges that nothing explains, guard, wire, pedal, stop and limit switch, a held spindle, a blind sensor.
 * After every deed what must never be is looked for: a drive in a state of rest, a drive after a trip, winding by a
 * pedal that was not armed, an armed pedal without a lease, answers that are no frames.
 */
#include <stdlib.h>

#include "device.h"
#include "far.h"
#include "frame.h"
#include "guide.h"
#include "model.h"
#include "pedal.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static const uint8_t *next;
static size_t left;
static uint32_t alive_number;
static int32_t leg_end;

#define TOKEN 0x1234567u

static uint8_t draw(void) {
    if (left == 0)
        return 0;
    left--;
    return *next++;
}

static void check(bool so) {
    if (!so)
        abort();
}

static void look_for_wrongs(void) {
    static uint8_t sent[1 << 16];
    struct frame_reader reader = {0};
    size_t length = host_sent(sent, sizeof sent);
    for (size_t i = 0; i < length; i++)
        if (frame_take(&reader, sent[i]))
            check(reader.bytes[0] >= 0x80);
    check(reader.damaged == 0 && reader.overlong == 0);
    if (host.duty_permille != 0)
        check(board_in_motion());
    check(!host.overlapped);
    check(board.state <= STATE_SETTING_UP);
    check((board.state == STATE_TRIPPED) == (board.trip != TRIP_NONE));
    check(steps.todo == 0 || board_in_motion());
    check(!pedal.armed || (device.lease_live && speaks(GROUP_PEDAL) && plan_in_force()->legs != 0));
    check(!pedal.armed || board.state == STATE_ARMED || board.state == STATE_PAUSED || pedal.winds ||
          board.state == STATE_SLOWING);
    check(!pedal.winds || (pedal.armed && board.state == STATE_WINDING));
    check(!pedal.release_seen || pedal.armed);
    check(board.far == FAR_NONE || (board_in_motion() && !board.referenced));
    check(board.legs_to_load <= CORE_LEGS_MAX && plan_in_force()->legs <= CORE_LEGS_MAX);
}

static void send(uint8_t kind, uint8_t sequence, const uint8_t *payload, uint8_t length) {
    uint8_t frame[FRAME_BYTES_MAX];
    host_receive(frame, frame_write(frame, kind, sequence, payload, length));
}

static void send_numbered(uint8_t kind, uint8_t *payload, uint8_t length) {
    put_u32(payload, TOKEN);
    send(kind, (uint8_t)(device.last_sequence % 255 + 1), payload, length);
}

/* Boot, wind and revision as they are. */
static void believe(uint8_t *payload) {
    put_u16(payload + MSG_CLOSE_WIND_BOOT_AT, device.boot);
    put_u32(payload + MSG_CLOSE_WIND_WIND_AT, board.wind);
    put_u16(payload + MSG_CLOSE_WIND_REVISION_AT, board.revision);
}

/* Mostly what a coil has; at times the ends of what can be said. */
static void draw_lay(struct msg_plan_leg *leg) {
    uint8_t how = draw();
    if (how & 1u)
        return;
    leg->pitch_nm = 1u + draw() * 1000u;
    leg->left_um = draw() * 8 - 200;
    leg->right_um = leg->left_um + draw() * 8;
    leg->dwell_counts = how & 6u;
    leg->scatter_seed = how & 8u ? draw() : 0;
    if (how & 16u)
        leg->pitch_nm = how & 32u ? UINT32_MAX : 1u;
    if (how & 64u) {
        leg->left_um = INT32_MIN;
        leg->right_um = how & 128u ? INT32_MAX : INT32_MIN + 1;
        leg->pitch_counts = UINT16_MAX;
    }
}

static void send_leg(uint8_t index) {
    uint8_t payload[MSG_PLAN_LEG_BYTES];
    uint8_t how = draw();
    bool last = index + 1 == board.legs_to_load;
    leg_end += 1 + draw();
    struct msg_plan_leg leg = {
        .generation = plan_loading()->generation,
        .index = index,
        .end_action = last ? END_ACTION_COMPLETE : how & 1u ? END_ACTION_PAUSE : END_ACTION_CONTINUE,
        .spindle = 1,
        .end_count = leg_end,
        .rate_mcps = 1u + draw() * 7843u,
        .accel_mcps2 = how & 2u ? UINT32_MAX : 1u + draw() * 4000u,
        .coast_counts = how & 4u ? draw() : 0,
        .pitch_counts = 16,
    };
    leg.creep_mcps = leg.rate_mcps < 4000 || how & 8u ? leg.rate_mcps : 4000;
    draw_lay(&leg);
    msg_plan_leg_write(payload, &leg);
    send_numbered(KIND_PLAN_LEG, payload, sizeof payload);
}

static void load_on(void) {
    uint8_t payload[PAYLOAD_BYTES_MAX] = {0};
    believe(payload);
    if (board.legs_to_load == 0) {
        leg_end = board.facts.count > 0 ? board.facts.count : 0;
        payload[MSG_PLAN_BEGIN_GENERATION_AT] = (uint8_t)(plan_in_force()->generation % 255 + 1);
        payload[MSG_PLAN_BEGIN_LEGS_AT] = draw() % 12;
        send_numbered(KIND_PLAN_BEGIN, payload, MSG_PLAN_BEGIN_BYTES);
    } else if (plan_loading()->legs < board.legs_to_load) {
        send_leg(plan_loading()->legs);
    } else {
        payload[MSG_PLAN_COMMIT_GENERATION_AT] = plan_loading()->generation;
        put_u32(payload + MSG_PLAN_COMMIT_CHECKSUM_AT, board.loading_checksum);
        send_numbered(KIND_PLAN_COMMIT, payload, MSG_PLAN_COMMIT_BYTES);
    }
}

static void send_move(void) {
    uint8_t payload[MSG_MOVE_BYTES];
    believe(payload);
    put_u32(payload + MSG_MOVE_COUNTS_AT, (uint32_t)((int32_t)draw() - 100));
    put_u32(payload + MSG_MOVE_RATE_MCPS_AT, 1u + draw() * 7843u);
    put_u32(payload + MSG_MOVE_ACCEL_MCPS2_AT, 1u + draw() * 40000u);
    send_numbered(KIND_MOVE, payload, sizeof payload);
}

static void send_mark(uint8_t side, int32_t at_um) {
    uint8_t payload[MSG_TRAVERSE_MARK_BYTES];
    believe(payload);
    payload[MSG_TRAVERSE_MARK_SIDE_AT] = side;
    put_u32(payload + MSG_TRAVERSE_MARK_AT_UM_AT, (uint32_t)at_um);
    send_numbered(KIND_TRAVERSE_MARK, payload, sizeof payload);
}

/* A step of the guide, or a right mark, far away at times. */
static void send_traverse(void) {
    uint8_t payload[MSG_TRAVERSE_STEP_BYTES];
    uint8_t how = draw();
    if (how >= 0xE0u) {
        send_mark(SIDE_RIGHT, how & 1u ? INT32_MAX : 1 + draw());
        return;
    }
    believe(payload);
    put_u32(payload + MSG_TRAVERSE_STEP_DISTANCE_UM_AT, (uint32_t)(((int32_t)draw() - 128) * (how & 1u ? 780 : 3)));
    send_numbered(KIND_TRAVERSE_STEP, payload, sizeof payload);
}

/* To the limit switch, or far; slowly enough at times that it is on its way for long. */
static void send_far(void) {
    uint8_t payload[MSG_TRAVERSE_HOME_BYTES];
    uint8_t how = draw();
    believe(payload);
    put_u32(payload + MSG_TRAVERSE_HOME_AT_UM_AT, how == 0 ? UINT32_MAX : (uint32_t)(((int32_t)draw() - 128) * how * 30));
    put_u32(payload + MSG_TRAVERSE_HOME_RATE_UM_S_AT, how & 2u ? draw() * 1000u : UINT32_MAX);
    put_u32(payload + MSG_TRAVERSE_HOME_ACCEL_UM_S2_AT, how & 4u ? draw() * 1000u : UINT32_MAX);
    send_numbered(how & 1u ? KIND_TRAVERSE_HOME : KIND_TRAVERSE_MOVE, payload, sizeof payload);
}

/* Those in force, with some bytes changed: many are refused, some are kept and booted with. */
static void send_settings(void) {
    uint8_t payload[MSG_WRITE_SETTINGS_BYTES];
    msg_settings_write(payload + MSG_WRITE_SETTINGS_NUMBER_AT, &settings);
    put_u16(payload + MSG_WRITE_SETTINGS_BOOT_AT, device.boot);
    put_u16(payload + MSG_WRITE_SETTINGS_REVISION_AT, board.revision);
    payload[MSG_WRITE_SETTINGS_NUMBER_AT] |= 1u;
    for (uint8_t changes = draw() % 4; changes--;)
        payload[MSG_WRITE_SETTINGS_NUMBER_AT + draw() % MSG_SETTINGS_BYTES] = draw();
    send(KIND_READ_SETTINGS, 0, payload, 0);
    send_numbered(KIND_WRITE_SETTINGS, payload, sizeof payload);
}

/* What a sensible host says next. */
static void lead_on(void) {
    uint8_t payload[PAYLOAD_BYTES_MAX] = {0};
    believe(payload);
    if (device.token != TOKEN) {
        uint8_t hello[MSG_HELLO_BYTES] = {PROTOCOL_BASE_VERSION};
        put_u32(hello + MSG_HELLO_TOKEN_AT, TOKEN);
        alive_number = 0;
        send(KIND_HELLO, 0, hello, sizeof hello);
    } else if (!device.lease_live) {
        put_u32(payload, TOKEN);
        put_u32(payload + MSG_ALIVE_NUMBER_AT, ++alive_number);
        send(KIND_ALIVE, 0, payload, MSG_ALIVE_BYTES);
    } else if (board.state == STATE_TRIPPED) {
        payload[MSG_CLEAR_TRIP_TRIP_AT] = board.trip;
        send_numbered(KIND_CLEAR_TRIP, payload, MSG_CLEAR_TRIP_BYTES);
    } else if (board.wind == PROTOCOL_NO_WIND) {
        put_u16(payload + MSG_OPEN_WIND_REVISION_AT, board.revision);
        put_u32(payload + MSG_OPEN_WIND_WIND_AT, 7);
        send_numbered(KIND_OPEN_WIND, payload, MSG_OPEN_WIND_BYTES);
    } else if (!board.referenced && !board_in_motion()) {
        send_mark(SIDE_LEFT, 0);
    } else if (board.state == STATE_ARMED || (board.state == STATE_PAUSED && board.legs_to_load == 0)) {
        payload[MSG_START_GENERATION_AT] = plan_in_force()->generation;
        if (draw() & 1u)
            send_numbered(KIND_START, payload, MSG_START_BYTES);
        else if (!pedal.armed)
            send_numbered(KIND_ARM_PEDAL, payload, MSG_ARM_PEDAL_BYTES);
        else
            host.pedal_pressed = !host.pedal_pressed;
        model_run(PROTOCOL_PEDAL_SETTLE_MS + 1);
    } else if (!board_in_motion()) {
        load_on();
    } else {
        model_run(draw());
    }
}

static void send_sound(void) {
    uint8_t payload[PAYLOAD_BYTES_MAX];
    uint8_t kind = draw(), how = draw(), length = draw() % (PAYLOAD_BYTES_MAX + 1);
    for (uint8_t i = 0; i < length; i++)
        payload[i] = draw();
    if (how & 1u && length >= MSG_CLOSE_WIND_BYTES)
        believe(payload);
    if (how & 2u && length >= 4)
        put_u32(payload, TOKEN);
    send(kind, how & 4u ? draw() : (uint8_t)(device.last_sequence % 255 + 1), payload, length);
}

static void send_raw(void) {
    uint8_t bytes[256];
    uint8_t length = draw();
    for (uint8_t i = 0; i < length; i++)
        bytes[i] = draw();
    host_receive(bytes, length);
}

static void do_one(void) {
    uint8_t deed = draw();
    switch (deed % 16) {
    case 0: send_raw(); break;
    case 1: send_sound(); break;
    case 2: model_run(draw()); break;
    case 3:
        host.clock += draw();
        host_edge(deed & 0x80u);
        if (deed & 0x40u)
            host_pulse_end();
        break;
    case 4: host.guard_open = deed & 0x80u; break;
    case 5: host.wire_lost = deed & 0x80u; break;
    case 6: model.held = deed & 0x80u; break;
    case 7: model.dark = deed & 0x80u; break;
    case 8: send(deed & 0x80u ? KIND_CUT : KIND_STOP, 0, &deed, 0); break;
    case 9: send_move(); break;
    case 10: send_traverse(); break;
    case 11: send_settings(); break;
    case 12: host.pedal_pressed = deed & 0x80u; break;
    case 13: host.stop_pressed = deed & 0x80u; break;
    case 14:
        host.limit_met = deed & 0x80u;
        if (deed & 0x40u)
            send_far();
        break;
    default: lead_on();
    }
}

/* What a board begins with, whatever the input before this one has written. */
static void begin_anew(void) {
    static struct msg_welcome identity_first;
    static struct msg_settings settings_first;
    static bool known;
    if (!known) {
        identity_first = identity;
        settings_first = settings;
        known = true;
    }
    identity = identity_first;
    settings = settings_first;
    identity.groups[GROUP_PEDAL - 1] = 1;
    identity.groups[GROUP_TRAVERSE - 1] = 2;
    settings.inputs |= WIRED_PEDAL | WIRED_STOP_INPUT | WIRED_LIMIT_SWITCH;
    memset(&host, 0, sizeof host);
    memset(host.nv, 0xFF, sizeof host.nv);
    host.gap_ticks = host.nv_writes_most = UINT32_MAX;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    next = data;
    left = size;
    uint8_t how = draw();
    begin_anew();
    host.nv_write_ms = how & 8u ? 4 : 0;
    host.direction_sense = how & 1u;
    host.bounce_ticks = how & 16u ? 80 : 0;
    host.least_ticks = how & 32u ? 120 : 0;
    settings.brake_permille = how & 2u ? 500 : 0;
    alive_number = 0;
    leg_end = 0;
    model_build(how, how & 2u);
    host_boot(how & 4u);
    look_for_wrongs();
    while (left != 0) {
        do_one();
        look_for_wrongs();
    }
    return 0;
}
