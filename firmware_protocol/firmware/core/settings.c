#include "settings.h"

#include "frame.h"
#include "kept.h"

#define CONTENT_AT MSG_WRITE_SETTINGS_NUMBER_AT
#define FIRST_FIELD 3 /* of the content; section 19 of the specification */
#define COUNTING_AT MSG_SETTINGS_SENSOR_AT /* from there to the driver: all that bears on counting */
#define COUNTING_BYTES (MSG_SETTINGS_DRIVER_AT - MSG_SETTINGS_SENSOR_AT)
#define MCPS_US_MOST 500000000u /* half a period at the highest rate */

struct limit {
    uint8_t how; /* bytes of the field, when it is looked at, and whether it must not be 0 */
    uint8_t bits; /* that its number may have */
};

#define X(bytes, when, not_zero, bits) {(bytes) | (when) << 4 | (not_zero) << 3, bits},
static const PORT_FLASH struct limit limits[] = {SETTINGS_LIMITS(X)};
#undef X

static uint32_t number_at(const uint8_t *from, uint8_t bytes) {
    uint32_t number = 0;
    while (bytes--)
        number = number << 8 | from[bytes];
    return number;
}

static uint8_t beyond_limits(const uint8_t *payload, const struct msg_write_settings *ask) {
    const uint8_t *field = payload + CONTENT_AT;
    for (uint8_t i = 0; i < sizeof limits / sizeof limits[0]; i++) {
        uint8_t how = PORT_FLASH_U8(&limits[i].how), when = how >> 4, bytes = how & 7u;
        uint32_t number = number_at(field, bytes);
        field += bytes;
        bool idle = (when != LIMIT_ALWAYS && ask->driver == DRIVER_NONE) ||
                    (when == LIMIT_GUIDE && ask->step_pm == 0);
        if (idle ? number != 0 : number == 0 && (how & 8u))
            return i + FIRST_FIELD;
        for (uint8_t bits = PORT_FLASH_U8(&limits[i].bits); bits != 0; bits--)
            number >>= 1;
        if (number != 0)
            return i + FIRST_FIELD;
    }
    return SETTINGS_GOOD;
}

uint8_t settings_fault(const uint8_t *payload) {
    struct msg_write_settings ask;
    msg_write_settings_read(&ask, payload);
    uint8_t fault = beyond_limits(payload, &ask);
    if (fault != SETTINGS_GOOD)
        return fault;
    if (!port_can_sense(ask.sensor))
        return 4;
    if (ask.bounce_us > ask.least_period_us)
        return 6;
    if (ask.driver == DRIVER_NONE)
        return SETTINGS_GOOD;
    if (!CORE_MOTOR)
        return 8;
    if (ask.rate_max_mcps / 1000u > port_edge_rate_max_cps(ask.sensor, ask.filter_us))
        return 13;
    if ((uint64_t)ask.rate_max_mcps * ask.least_period_us > MCPS_US_MOST)
        return 7;
    if (ask.full_rate_mcps < ask.rate_max_mcps)
        return 14;
    return ask.rest_ms <= ask.cut_ms ? 19 : SETTINGS_GOOD;
}

static void seal(uint8_t *copy) {
    put_u32(copy + MSG_SETTINGS_BYTES, crc32(CRC32_START, copy, MSG_SETTINGS_BYTES));
}

static void write_both(const uint8_t *copy) {
    for (uint16_t at = 0; at < 2 * SETTINGS_KEPT_BYTES; at++) {
        uint8_t byte = copy[at % SETTINGS_KEPT_BYTES];
        while (!port_nv_ready())
            port_watchdog();
        if (port_nv_read(SETTINGS_AT + at) != byte)
            port_nv_write(SETTINGS_AT + at, byte);
    }
}

void settings_keep(const uint8_t *content) {
    uint8_t copy[SETTINGS_KEPT_BYTES];
    memcpy(copy, content, MSG_SETTINGS_BYTES);
    seal(copy);
    write_both(copy);
}

/* What the settings in force say of the board. */
static void introduce(const uint8_t *content) {
    uint8_t drives = settings.driver; /* the version of these groups, too */
    identity.groups[GROUP_MOTOR - 1] = identity.groups[GROUP_LEGS - 1] = drives;
    identity.groups[GROUP_TRAVERSE - 1] = settings_has_guide();
#if CORE_FAR
    if (settings_has_guide() && settings.inputs & WIRED_LIMIT_SWITCH)
        identity.groups[GROUP_TRAVERSE - 1] = 2;
#endif
#if CORE_PEDAL
    identity.groups[GROUP_PEDAL - 1] = drives && (settings.inputs & WIRED_PEDAL);
#endif
    identity.legs_max = drives ? CORE_LEGS_MAX : 0;
    identity.has = (uint8_t)((settings.sensor != SENSOR_ONE_PULSE ? HAS_DIRECTION_SENSE : 0) |
                             (settings.brake_permille ? HAS_BRAKE : 0) | settings.inputs << 2);
    identity.rate_max_mcps = settings.rate_max_mcps;
    identity.edge_rate_max_cps = port_edge_rate_max_cps(settings.sensor, settings.filter_us);
    identity.settings_hash = crc32(CRC32_START, content + COUNTING_AT, COUNTING_BYTES);
    identity.cut_ms = settings.cut_ms;
    identity.rest_ms = settings.rest_ms;
}
_Static_assert(HAS_GUARD == WIRED_GUARD << 2 && HAS_WIRE_SENSOR == WIRED_WIRE_SENSOR << 2, "the same two bits");
_Static_assert(HAS_PEDAL == WIRED_PEDAL << 2 && HAS_STOP_INPUT == WIRED_STOP_INPUT << 2, "and these two");
_Static_assert(HAS_LIMIT_SWITCH == WIRED_LIMIT_SWITCH << 2, "and this one");
#define LAST_WIRED (CORE_FAR ? WIRED_LIMIT_SWITCH : CORE_PEDAL ? WIRED_STOP_INPUT : WIRED_WIRE_SENSOR)
_Static_assert(1 << WIRED_BITS == 2 * LAST_WIRED, "all that has a pin");

void settings_boot(void) {
    uint8_t copy[SETTINGS_KEPT_BYTES];
    for (uint16_t at = SETTINGS_AT; at < PORT_NV_BYTES; at += SETTINGS_KEPT_BYTES) {
        kept_read_bytes(copy, at, sizeof copy);
        if (crc32(CRC32_START, copy, MSG_SETTINGS_BYTES) != get_u32(copy + MSG_SETTINGS_BYTES))
            continue;
        msg_settings_read(&settings, copy);
        introduce(copy);
        write_both(copy); /* a copy that a power cut has spoilt */
        break;
    }
    port_take_settings();
}
