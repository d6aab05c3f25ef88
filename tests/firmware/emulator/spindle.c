/* TEST ONLY (GPL-3-or-later by libsimavr): the spindle that the chip drives and whose sensor it sees.
 *
 * The motor pushes in one direction with torque = stall * (duty - speed / no load), never below nought and
 * never above its limit; Coulomb and viscous friction and a brake slow the spindle. The equation of motion
 * is solved in steps of 100 us; the sensor's edges lie where the mean speed of a step puts them, which at
 * 1000 counts/s is within 1e-3 of a count of the exact solution.
 */
#include <math.h>
#include <string.h>

#include "avr_ioport.h"
#include "chip.h"
#include "sim_cycle_timers.h"

#define STEP_CYCLES 1600u
#define STEP_S ((double)STEP_CYCLES / CHIP_HZ)
#define MOTOR_ENABLE 0x01 /* PB0 */
#define MOTOR_PWM 0x02    /* PB1 = OC1A */
#define BRAKE_PWM 0x04    /* PB2 = OC1B */
#define MOTOR_BACK 0x08   /* PB3 */

static int phases_a_count(const struct spindle *s) { return s->kind == SENSOR_FOUR_EDGES ? 1 : 2; }

int64_t spindle_count(const struct spindle *s) {
    int64_t n = phases_a_count(s), phase = s->phase;
    return phase >= 0 ? phase / n : -((-phase + n - 1) / n);
}

/* Levels of A (bit 0) and B (bit 1) in a phase. */
static uint32_t levels_of(const struct spindle *s) {
    static const uint8_t quadrature[4] = {0, 1, 3, 2};
    if (s->kind == SENSOR_ONE_PULSE)
        return (s->phase & 1) == 0 && s->phase != 0;
    /* With two counts a period the edges of A are the even phases. */
    return quadrature[(s->phase + (s->kind == SENSOR_TWO_EDGES ? 3 : 0)) & 3];
}

/* Both the level that the port reads without a driver and the pin itself: the emulator raises pulled-up
 * inputs again at each write to the port, and filters pins that keep their level. */
static void drive_pins(struct chip *c) {
    struct spindle *s = &c->spindle;
    uint32_t levels = levels_of(s) ^ (s->glitch_on ? 1u : 0u);
    avr_ioport_external_t hold = {
        .name = 'D', .mask = 0x0C,
        .value = (uint8_t)(levels << 2),
    };
    avr_ioctl(c->avr, AVR_IOCTL_IOPORT_SET_EXTERNAL('D'), &hold);
    if ((c->pin_a->value & 1) != (levels & 1)) c->edge_raised[1] = chip_now(c);
    if ((c->pin_b->value & 1) != (levels >> 1)) c->edge_raised[2] = chip_now(c);
    avr_raise_irq(c->pin_a, levels & 1);
    avr_raise_irq(c->pin_b, levels >> 1);
}

static void pass_phase(struct chip *c, int way) {
    struct spindle *s = &c->spindle;
    int64_t before = spindle_count(s);
    s->phase += way;
    if (s->dark) return;
    if (spindle_count(s) != before) {
        s->edges++;
        chip_note(c, 'e', (uint32_t)spindle_count(s));
    }
    drive_pins(c);
}

/* The next phase border inside the present step, as an absolute cycle of the emulator; 0: none. */
static avr_cycle_count_t next_border(struct chip *c) {
    struct spindle *s = &c->spindle;
    double v = s->speed_mean, left = v > 0 ? 1.0 - s->place : s->place;
    if (v == 0.0) return 0;
    double cycles = left / fabs(v) * CHIP_HZ;
    uint64_t at = s->phase_at + (uint64_t)cycles + 1;
    return at < s->step_at + STEP_CYCLES ? (avr_cycle_count_t)(at - c->base) : 0;
}

static avr_cycle_count_t border(avr_t *avr, avr_cycle_count_t when, void *param) {
    struct chip *c = param;
    struct spindle *s = &c->spindle;
    (void)avr;
    pass_phase(c, s->speed_mean > 0 ? 1 : -1);
    s->place = s->speed_mean > 0 ? 0.0 : 1.0;
    s->phase_at = c->base + when;
    return next_border(c);
}

static avr_cycle_count_t forced_border(avr_t *avr, avr_cycle_count_t when, void *param) {
    struct chip *c = param;
    struct spindle *s = &c->spindle;
    (void)avr;
    if (!s->is_forced || s->forced_cps == 0.0 || s->phases_left == 0) return 0;
    pass_phase(c, s->forced_cps > 0 ? 1 : -1);
    if (s->phases_left > 0) s->phases_left--;
    double gap = CHIP_HZ / fabs(s->forced_cps) / phases_a_count(s) + s->forced_rest;
    avr_cycle_count_t whole = (avr_cycle_count_t)gap;
    s->forced_rest = gap - (double)whole;
    return when + whole;
}

static int share_permille(struct chip *c, uint8_t pin, uint8_t connected, int compare_at) {
    uint8_t *d = c->avr->data;
    if (!(d[REG_DDRB] & pin)) return 0; /* an input: the pull-down holds it */
    if (!(d[REG_TCCR1A] & connected)) return d[REG_PORTB] & pin ? 1000 : 0;
    if (!(d[REG_TCCR1B] & 7)) return 0; /* the timer stands */
    int top = d[REG_ICR1L] | d[REG_ICR1L + 1] << 8, compare = d[compare_at] | d[compare_at + 1] << 8;
    return top ? (compare + 1 > top ? 1000 : (compare + 1) * 1000 / (top + 1)) : 0;
}

static void look_at_drive(struct chip *c) {
    struct spindle *s = &c->spindle;
    uint8_t *d = c->avr->data;
    int enabled = (d[REG_DDRB] & MOTOR_ENABLE) && (d[REG_PORTB] & MOTOR_ENABLE);
    int duty = enabled ? share_permille(c, MOTOR_PWM, 0x80, REG_OCR1AL) : 0;
    int brake = share_permille(c, BRAKE_PWM, 0x20, REG_OCR1BL);
    if (duty != s->duty_permille) chip_note(c, 'D', (uint32_t)duty);
    if (brake != s->brake_permille) chip_note(c, 'B', (uint32_t)brake);
    s->enabled = enabled;
    s->duty_permille = duty;
    s->brake_permille = brake;
    s->backward = (d[REG_DDRB] & MOTOR_BACK) && (d[REG_PORTB] & MOTOR_BACK);
}

static double speed_after(const struct spindle *s) {
    double sense = s->backward ? -1.0 : 1.0, v = s->speed;
    double way = v != 0.0 ? (v > 0 ? 1.0 : -1.0) : sense; /* direction of motion, or of the push */
    double torque = 0.0;
    if (way == sense) {
        torque = s->stall * (s->duty_permille / 1000.0 - fabs(v) / s->no_load);
        torque = torque < 0 ? 0 : torque > s->limit ? s->limit : torque;
    }
    double resistance = s->coulomb + s->jam + s->brake * s->brake_permille / 1000.0;
    if (v == 0.0 && torque <= resistance) return 0.0;
    double speed = fabs(v) + (torque - resistance - s->viscous * fabs(v)) * STEP_S;
    return speed > 0 ? way * speed : 0.0;
}

static avr_cycle_count_t step(avr_t *avr, avr_cycle_count_t when, void *param) {
    struct chip *c = param;
    struct spindle *s = &c->spindle;
    uint64_t now = c->base + when;
    look_at_drive(c);
    if (!s->is_forced) {
        s->place += s->speed_mean * (double)(now - s->phase_at) / CHIP_HZ;
        while (s->place >= 1.0) { pass_phase(c, 1); s->place -= 1.0; }
        while (s->place < 0.0) { pass_phase(c, -1); s->place += 1.0; }
        double after = speed_after(s);
        s->speed_mean = (s->speed + after) / 2 * phases_a_count(s);
        s->speed = after;
        s->step_at = s->phase_at = now;
        avr_cycle_count_t at = next_border(c);
        if (at) avr_cycle_timer_register(avr, at - avr->cycle, border, c);
    }
    /* The emulator computes eleven bits a byte (it counts a parity bit that 8N1 does not have). */
    if (c->uart) c->uart->cycles_per_byte = (avr_cycle_count_t)(
        10.0 * ((c->avr->data[REG_UBRR0L] | (c->avr->data[REG_UBRR0H] & 15) << 8) + 1)
        * (c->avr->data[REG_UCSR0A] & 2 ? 8 : 16));
    return when + STEP_CYCLES;
}

static avr_cycle_count_t glitch(avr_t *avr, avr_cycle_count_t when, void *param) {
    struct chip *c = param;
    struct spindle *s = &c->spindle;
    (void)avr;
    if (!s->glitch_period && !s->glitch_on) return 0;
    s->glitch_on = !s->glitch_on;
    if (s->glitch_on) s->glitches++;
    drive_pins(c);
    return when + (s->glitch_on ? s->glitch_width : s->glitch_period - s->glitch_width);
}

/* Between the steps of the equation, too. A forced run keeps no place within a phase. */
double spindle_place_now(const struct chip *c) {
    const struct spindle *s = &c->spindle;
    double more = s->is_forced ? 0.0 : s->speed_mean * (double)(chip_now(c) - s->phase_at) / CHIP_HZ;
    return ((double)s->phase + s->place + more) / phases_a_count(s);
}

void spindle_arm(struct chip *c) {
    struct spindle *s = &c->spindle;
    avr_raise_irq(c->pin_a, !(c->pin_a->value & 1));
    avr_raise_irq(c->pin_b, !(c->pin_b->value & 1));
    drive_pins(c);
    s->step_at = s->phase_at = chip_now(c);
    avr_cycle_timer_register(c->avr, STEP_CYCLES, step, c);
    if (s->is_forced && s->forced_cps != 0.0) avr_cycle_timer_register(c->avr, 100, forced_border, c);
    if (s->glitch_period) avr_cycle_timer_register(c->avr, s->glitch_period, glitch, c);
}

/* --- for the test -------------------------------------------------------------------------------- */

void spindle_build(struct chip *c, int kind, double stall, double limit, double no_load,
                   double coulomb, double viscous, double brake) {
    struct spindle *s = &c->spindle;
    s->kind = kind;
    s->stall = stall; s->limit = limit; s->no_load = no_load;
    s->coulomb = coulomb; s->viscous = viscous; s->brake = brake;
    s->place = 0.5; /* phase 0 rests in its middle */
    drive_pins(c);
}

/* Turn at this speed from now on, so many counts (negative: without end). */
void spindle_force(struct chip *c, double counts_per_s, int64_t counts) {
    struct spindle *s = &c->spindle;
    avr_cycle_timer_cancel(c->avr, forced_border, c);
    avr_cycle_timer_cancel(c->avr, border, c);
    s->is_forced = 1;
    s->forced_cps = counts_per_s;
    s->forced_rest = 0.0;
    s->phases_left = counts < 0 ? -1 : counts * phases_a_count(s);
    s->speed = s->speed_mean = 0.0;
    if (counts_per_s != 0.0) avr_cycle_timer_register(c->avr, 1600, forced_border, c);
}

void spindle_let_go(struct chip *c) {
    struct spindle *s = &c->spindle;
    s->is_forced = 0;
    s->place = 0.5;
    s->speed = s->speed_mean = 0.0;
    s->phase_at = s->step_at = chip_now(c);
}

void spindle_jam(struct chip *c, double counts_per_s2) { c->spindle.jam = counts_per_s2; }
void spindle_darken(struct chip *c, int dark) { c->spindle.dark = dark; if (!dark) drive_pins(c); }

/* A pulse of so many cycles on A, turned against its level, once every period; 0 ends them. */
void spindle_glitch(struct chip *c, uint64_t period, uint64_t width) {
    struct spindle *s = &c->spindle;
    int begins = period && !s->glitch_period;
    s->glitch_period = period;
    s->glitch_width = width;
    if (begins) avr_cycle_timer_register(c->avr, period, glitch, c);
}

double spindle_speed(const struct chip *c) { return c->spindle.speed; }
double spindle_place(const struct chip *c) {
    return ((double)c->spindle.phase + c->spindle.place) / phases_a_count(&c->spindle);
}
