/* The body of a board without motor: it counts the edges of an open wind and keeps the count at rest.
 *
 * A second without an edge is a rest (docs/protocol/counting.md): wind and count are then kept, and the next
 * edge takes AT_REST back. Nothing is driven, so nothing trips and `unattributed` stays nought.
 */
#include "edges.h"
#include "kept.h"

#if !CORE_MOTOR

#define REST_MS 1000

static struct {
    uint32_t wind; /* 0: none open */
    uint32_t edge_ms;
    int32_t rate_mcps;
    int32_t count; /* as of the newest look */
    uint16_t seen, clock;
    bool at_rest;
} counter;

/* No more than is needed: an edge waits as long as the copy takes. */
struct look {
    int32_t count;
    uint16_t seen, clock, implausible;
};

static struct look look(void) {
    uint8_t before = port_lock();
    struct look now = {edges.count, edges.seen, edges.clock, edges.implausible};
    port_unlock(before);
    return now;
}

static void count_edges(bool yes) {
    uint8_t before = port_lock();
    edges.sense = yes;
    port_unlock(before);
}

void body_boot(void) {
    memset(&counter, 0, sizeof counter);
    uint8_t before = port_lock();
    edges.count = 0;
    edges.sense = 0;
    counter.seen = edges.seen;
    port_unlock(before);
}

static void take_back_rest(void) {
    struct kept_record kept;
    counter.at_rest = false;
    kept_read(&kept);
    if (kept.valid && kept.at_rest) {
        kept.at_rest = false;
        kept_write(&kept);
    }
}

static void take_rest(int32_t count) {
    counter.at_rest = true;
    counter.rate_mcps = 0;
    if (counter.wind != PROTOCOL_NO_WIND) {
        struct kept_record record = {.wind = counter.wind, .count = count, .valid = true, .at_rest = true};
        kept_write(&record);
    }
}

/* The mean speed between the newest edges of two looks; the way it goes is known only with a sense of it. */
static void look_at_speed(const struct look *now, uint32_t now_ms) {
    uint16_t number = (uint16_t)(now->seen - counter.seen);
    uint16_t stretch = (uint16_t)(now->clock - counter.clock);
    uint32_t quiet_ms = now_ms - counter.edge_ms;
    /* By the clock within half its range only: a look may be late, and a stretch that went round would seem short. */
    if (!counter.at_rest && stretch != 0 && quiet_ms < UINT16_MAX / 2 / (PORT_CLOCK_HZ / 1000)) {
        uint64_t rate = (uint64_t)number * PORT_CLOCK_HZ * 1000u / stretch;
        counter.rate_mcps = rate > INT32_MAX ? INT32_MAX : (int32_t)rate;
    } else if (quiet_ms != 0) {
        counter.rate_mcps = (int32_t)((uint64_t)number * 1000000u / quiet_ms);
    }
    if (now->count < counter.count)
        counter.rate_mcps = -counter.rate_mcps;
}

void body_tick(uint32_t now_ms) {
    uint8_t before = port_lock();
    edges_age(PORT_CLOCK_HZ / 10);
    port_unlock(before);
    struct look now = look();
    if (now.seen != counter.seen) {
        look_at_speed(&now, now_ms);
        counter.seen = now.seen;
        counter.clock = now.clock;
        counter.edge_ms = now_ms;
        counter.count = now.count;
        take_back_rest(); /* also one of an earlier boot */
    } else if (!counter.at_rest && now_ms - counter.edge_ms >= REST_MS) {
        take_rest(now.count);
    }
}

void body_facts(struct facts *facts) {
    memset(facts, 0, sizeof *facts);
    struct look now = look();
    facts->count = now.count;
    facts->implausible = now.implausible;
    facts->rate_mcps = counter.rate_mcps;
    facts->at_rest = counter.at_rest;
    facts->wire_present = port_wire_present();
    facts->traverse_rightward = true;
}

void body_open_wind(uint32_t wind) {
    counter.wind = wind;
    uint8_t before = port_lock();
    edges.count = 0;
    edges.implausible = 0;
    port_unlock(before);
    count_edges(true);
}

void body_close_wind(void) {
    counter.wind = PROTOCOL_NO_WIND;
    count_edges(false);
}

void body_kept(struct kept_record *record) {
    kept_read(record);
}

#endif
