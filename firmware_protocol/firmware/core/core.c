#include "core.h"

#include "device.h"
#include "frame.h"
#include "kept.h"
#include "settings.h"

volatile struct edges edges;
volatile struct edges_past edges_past;
volatile uint8_t core_milliseconds;

static struct frame_reader reader;
static uint32_t now_ms;

int32_t edges_read(const volatile int32_t *number) {
    uint8_t before = port_lock();
    int32_t copy = *number;
    port_unlock(before);
    return copy;
}

void core_boot(bool by_watchdog) {
    memset(&reader, 0, sizeof reader);
    now_ms = 0;
    link_clear();
    settings_boot();
    kept_boot();
    body_boot();
    device_boot(kept_next_boot(), now_ms, by_watchdog);
    core_milliseconds = 0;
}

static void pass_time(void) {
    uint8_t before = port_lock();
    uint8_t passed = core_milliseconds;
    core_milliseconds = 0;
    port_unlock(before);
    if (passed == 0)
        return;
    now_ms += passed;
    kept_tick();
    body_tick(now_ms);
    device_tick(now_ms);
    port_watchdog();
}

/* Other settings: nothing moves and no wind is open, so all else may wait until they are kept. */
static void renew(void) {
    while (kept_busy()) {
        kept_tick();
        port_watchdog();
    }
    settings_keep(device.last_payload + MSG_WRITE_SETTINGS_NUMBER_AT);
    device.renews = false;
    port_restart();
}

bool core_turn(void) {
    uint8_t byte;
    pass_time();
    while (link_take(&byte)) {
        if (frame_take(&reader, byte)) {
            device_take(reader.bytes[0], reader.bytes[1], reader.bytes + 2, reader.payload_bytes, now_ms);
            break;
        }
    }
    if (device.renews)
        renew();
    return core_has_work();
}
