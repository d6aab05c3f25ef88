/* TEST ONLY (GPL-3-or-later by libsimavr): who looks at drive and brake, cycle by cycle.
 *
 * A pin with its pulse width connected is taken as on: between two pulses the next may come at any cycle. The least
 * gap is from where one of the two could last be on to where the other can first be; both on is an overlap.
 */
#include "chip.h"
#include "sim_io.h"

static int may_be_on(const struct chip *c, uint8_t pin, uint8_t connected) {
    const uint8_t *d = c->avr->data;
    if (!(d[REG_DDRB] & pin)) return 0; /* an input: its resistor holds it off */
    if (d[REG_TCCR1A] & connected) return 1;
    return ((d[REG_PORTB] ^ c->watch.low_is_on) & pin) != 0;
}

int watch_drive_on(const struct chip *c) {
    const struct watch *w = &c->watch;
    return may_be_on(c, w->enable, 0) && may_be_on(c, w->duty, 0x80);
}

static void begin_one(uint64_t now, int other_on, uint64_t other_off_at, uint64_t *least) {
    if (other_on || !other_off_at) return;
    uint64_t gap = now - other_off_at;
    if (!*least || gap < *least) *least = gap ? gap : 1;
}

void watch_look(struct chip *c) {
    struct watch *w = &c->watch;
    uint64_t now = chip_now(c);
    int drive = watch_drive_on(c), brake = may_be_on(c, w->brake, 0x20);
    if (w->both_since && !(drive && brake)) {
        uint64_t took = now - w->both_since;
        w->both_since = 0;
        if (took > w->overlap_most) w->overlap_most = took;
    } else if (!w->both_since && drive && brake) {
        w->both_since = now;
        w->overlaps++;
        chip_note(c, 'X', 0);
    }
    if (drive && !w->drive_on) {
        begin_one(now, w->brake_on, w->brake_off_at, &w->brake_to_drive);
        w->drives++;
    }
    if (brake && !w->brake_on) {
        begin_one(now, w->drive_on, w->drive_off_at, &w->drive_to_brake);
        w->brakes++;
    }
    if (!drive && w->drive_on) w->drive_off_at = now;
    if (!brake && w->brake_on) w->brake_off_at = now;
    w->drive_on = drive;
    w->brake_on = brake;
}

/* Called after the emulator has stored what was written. */
static void on_write(struct avr_t *avr, avr_io_addr_t addr, uint8_t value, void *param) {
    avr->data[addr] = value;
    watch_look(param);
}

void watch_begin(struct chip *c) {
    static const avr_io_addr_t seen[] = {REG_PORTB, REG_DDRB, REG_TCCR1A};
    struct watch *w = &c->watch;
    w->enable = 0x01; /* PB0 */
    w->duty = 0x02;   /* PB1 = OC1A */
    w->brake = 0x04;  /* PB2 = OC1B */
    w->back = 0x08;   /* PB3 */
    for (unsigned i = 0; i < sizeof seen / sizeof *seen; i++) avr_register_io_write(c->avr, seen[i], on_write, c);
}

/* Overlaps, the longest, least gaps from drive to brake and back, switchings on of each. Cycles. */
uint64_t watch_figure(const struct chip *c, int what) {
    const struct watch *w = &c->watch;
    uint64_t figures[6] = {w->overlaps, w->overlap_most, w->drive_to_brake, w->brake_to_drive, w->drives, w->brakes};
    return what >= 0 && what < 6 ? figures[what] : 0;
}

/* Which of the pins of port B are on while low; and, if there is one, the output that closes the contactor of the
 * motor's supply: data address of its port, its bit, and whether it closes it while high. */
void watch_wiring(struct chip *c, int low_is_on, int contactor_port, int contactor_pin, int closes_high) {
    struct watch *w = &c->watch;
    w->low_is_on = (uint8_t)low_is_on;
    w->contactor_port = contactor_port;
    w->contactor_pin = (uint8_t)contactor_pin;
    w->contactor_closes_high = closes_high;
}

/* A pin that floats leaves it open. */
int watch_contactor_open(const struct chip *c) {
    const struct watch *w = &c->watch;
    if (!w->contactor_port) return 0;
    uint8_t driven = c->avr->data[w->contactor_port - 1] & w->contactor_pin; /* its direction register */
    uint8_t high = c->avr->data[w->contactor_port] & w->contactor_pin;
    return !(driven && !!high == w->contactor_closes_high);
}
