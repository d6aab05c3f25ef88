/* TEST ONLY (GPL-3-or-later by libsimavr): the sensor between spindle and chip, and what can be wrong with it.
 *
 * A turn of the sensor has borders at which a level changes; a phase lies between two. Where they are even, a phase
 * is as long as any other; `bend` moves single borders, which gives uneven marks, channels that are not a quarter
 * period apart, and marks longer than their gaps. What the chip sees of a channel is its true level, turned over by
 * a bounce or a disturbance, unless the channel's wire is lost; last of all the two may be exchanged.
 */
#include <stdlib.h>
#include <string.h>

#include "avr_ioport.h"
#include "chip.h"
#include "sim_cycle_timers.h"

enum { RISES = 1, FALLS = 2 };

static int phases_a_count(const struct sensor *s) { return s->kind == SENSOR_FOUR_EDGES ? 1 : 2; }
int sensor_phases(const struct chip *c) { return phases_a_count(&c->sensor); }

int64_t sensor_count(const struct chip *c) {
    int64_t n = phases_a_count(&c->sensor), phase = c->sensor.phase;
    return phase >= 0 ? phase / n : -((-phase + n - 1) / n);
}

/* Levels of A (bit 0) and B (bit 1) in a phase. */
static uint32_t true_levels(const struct sensor *s) {
    static const uint8_t quadrature[4] = {0, 1, 3, 2};
    if (s->kind == SENSOR_ONE_PULSE)
        return (s->phase & 1) == 0 && s->phase != 0;
    /* With two counts a period the edges of A are the even phases. */
    return quadrature[(s->phase + (s->kind == SENSOR_TWO_EDGES ? 3 : 0)) & 3];
}

/* How far the border where phase k begins lies behind its even place, in phases. */
static double bent(const struct sensor *s, int64_t k) {
    if (!s->bend_length) return 0.0;
    int64_t i = k % s->bend_length;
    return s->bend[i < 0 ? i + s->bend_length : i];
}

double sensor_phase_length(const struct chip *c) {
    const struct sensor *s = &c->sensor;
    return 1.0 + bent(s, s->phase + 1) - bent(s, s->phase);
}

double sensor_phase_begin(const struct chip *c) {
    return (double)c->sensor.phase + bent(&c->sensor, c->sensor.phase);
}

/* The same numbers again and again from one seed: xorshift, 0 to 1. */
double sensor_draw(struct chip *c) {
    uint32_t x = c->sensor.seed ? c->sensor.seed : 1;
    x ^= x << 13; x ^= x >> 17; x ^= x << 5;
    c->sensor.seed = x;
    return (double)x / 4294967296.0;
}

static uint64_t scattered(struct chip *c, int scatter, uint64_t cycles) {
    if (!scatter) return cycles;
    uint64_t drawn = (uint64_t)((0.1 + 1.8 * sensor_draw(c)) * (double)cycles);
    return drawn ? drawn : 1;
}

/* Both the level that the port reads without a driver and the pin itself: the emulator raises pulled-up
 * inputs again at each write to the port, and filters pins that keep their level. */
void sensor_drive_pins(struct chip *c) {
    struct sensor *s = &c->sensor;
    uint32_t levels = 0;
    for (int i = 0; i < 2; i++) {
        uint32_t level = (uint32_t)(s->channel[i].level ^ s->channel[i].bouncing)
                         ^ (s->disturbed && (s->disturbed_now >> i & 1));
        switch (s->channel[i].lost) {
        case CHANNEL_STAYS: level = s->shown >> i & 1; break;
        case CHANNEL_HIGH: level = 1; break;
        case CHANNEL_LOW: level = 0; break;
        default: break;
        }
        levels |= level << i;
    }
    s->shown = levels;
    if (s->exchanged) levels = levels >> 1 | (levels & 1) << 1;
    avr_ioport_external_t hold = {.name = 'D', .mask = 0x0C, .value = (uint8_t)(levels << 2)};
    avr_ioctl(c->avr, AVR_IOCTL_IOPORT_SET_EXTERNAL('D'), &hold);
    if ((c->pin_a->value & 1) != (levels & 1)) c->edge_raised[1] = chip_now(c);
    if ((c->pin_b->value & 1) != (levels >> 1)) c->edge_raised[2] = chip_now(c);
    avr_raise_irq(c->pin_a, levels & 1);
    avr_raise_irq(c->pin_b, levels >> 1);
}

/* --- bounce: a contact that opens and closes again after its edge -------------------------------------- */

static avr_cycle_count_t bounce(avr_t *avr, avr_cycle_count_t when, void *param) {
    struct channel *one = param;
    struct chip *c = one->chip;
    (void)avr;
    one->bouncing = !one->bouncing;
    c->sensor.bounces++;
    sensor_drive_pins(c);
    if (--one->bounces_left == 0) return 0;
    return when + scattered(c, c->sensor.bounce_scatters, c->sensor.bounce_width);
}

static void begin_bounce(struct chip *c, struct channel *one) {
    struct sensor *s = &c->sensor;
    avr_cycle_timer_cancel(c->avr, bounce, one);
    one->bouncing = 0;
    one->bounces_left = 0;
    if (!s->bounce_number || !(s->bounce_on & (one->level ? RISES : FALLS))) return;
    one->bounces_left = 2 * s->bounce_number;
    avr_cycle_timer_register(c->avr, scattered(c, s->bounce_scatters, s->bounce_width), bounce, one);
}

/* After every edge of a kind (1 rising, 2 falling, 3 both): there and back so many times, each so many cycles. */
void sensor_bounce(struct chip *c, int number, uint64_t width, int on, int scatters) {
    c->sensor.bounce_number = number;
    c->sensor.bounce_width = width;
    c->sensor.bounce_on = on;
    c->sensor.bounce_scatters = scatters;
}

/* --- disturbances: pulses from outside ------------------------------------------------------------------ */

static avr_cycle_count_t disturb(avr_t *avr, avr_cycle_count_t when, void *param) {
    struct chip *c = param;
    struct sensor *s = &c->sensor;
    (void)avr;
    if (!s->disturbed && !s->disturbances_left) return 0;
    s->disturbed = !s->disturbed;
    if (s->disturbed) {
        s->disturbances++;
        if (s->disturbances_left > 0) s->disturbances_left--;
        s->disturbed_now = s->disturbed_channels;
        if (s->disturb_scatters && s->disturbed_channels == 3) /* one, the other, or both */
            s->disturbed_now = 1 + (int)(sensor_draw(c) * 3.0);
    }
    sensor_drive_pins(c);
    if (s->disturbed) return when + scattered(c, s->disturb_scatters, s->disturb_width);
    if (!s->disturbances_left) return 0;
    return when + scattered(c, s->disturb_scatters, s->disturb_period - s->disturb_width);
}

/* Pulses on these channels (bits), `after` so many cycles and then every period; `times` negative: without end. */
void sensor_disturb(struct chip *c, int channels, uint64_t after, uint64_t width, uint64_t period, int times,
                    int scatters) {
    struct sensor *s = &c->sensor;
    s->disturbed_channels = channels;
    s->disturb_width = width;
    s->disturb_period = period;
    s->disturbances_left = times;
    s->disturb_scatters = scatters;
    if (times && !s->disturbed) avr_cycle_timer_register(c->avr, after ? after : 1, disturb, c);
}

/* --- for the spindle, resets, tests --------------------------------------------------------------------- */

void sensor_pass(struct chip *c, int way) {
    struct sensor *s = &c->sensor;
    int64_t before = sensor_count(c);
    s->phase += way;
    if (sensor_count(c) != before) {
        s->edges++;
        chip_note(c, 'e', (uint32_t)sensor_count(c));
    }
    uint32_t levels = true_levels(s);
    for (int i = 0; i < 2; i++) {
        struct channel *one = &s->channel[i];
        if (one->level == (int)(levels >> i & 1)) continue;
        one->level = (int)(levels >> i & 1);
        begin_bounce(c, one);
    }
    sensor_drive_pins(c);
}

/* After a reset, which cancels every timer: levels anew, bounces over, disturbances go on. */
void sensor_arm(struct chip *c) {
    struct sensor *s = &c->sensor;
    for (int i = 0; i < 2; i++) {
        s->channel[i].chip = c;
        s->channel[i].level = (int)(true_levels(s) >> i & 1);
        s->channel[i].bouncing = 0;
    }
    avr_raise_irq(c->pin_a, !(c->pin_a->value & 1));
    avr_raise_irq(c->pin_b, !(c->pin_b->value & 1));
    s->disturbed = 0;
    sensor_drive_pins(c);
    if (s->disturbances_left) avr_cycle_timer_register(c->avr, s->disturb_period, disturb, c);
}

void sensor_lose(struct chip *c, int channel, int how) {
    c->sensor.channel[channel].lost = how;
    sensor_drive_pins(c);
}

void sensor_exchange(struct chip *c, int exchanged) {
    c->sensor.exchanged = exchanged;
    sensor_drive_pins(c);
}

/* Offsets of the borders of one turn, in phases; phase 0 begins with the first. */
void sensor_bend(struct chip *c, const double *offsets, int n) {
    free(c->sensor.bend);
    c->sensor.bend = malloc((size_t)n * sizeof *offsets);
    memcpy(c->sensor.bend, offsets, (size_t)n * sizeof *offsets);
    c->sensor.bend_length = n;
}

void sensor_seed(struct chip *c, uint32_t seed) { c->sensor.seed = seed; }
