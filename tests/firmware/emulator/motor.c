/* TEST ONLY (GPL-3-or-later by libsimavr): the spindle that the chip drives, and a motor that may disobey.
 *
 * The motor pushes in one direction with torque = stall * (duty - speed / no load), never below nought and
 * never above its limit; Coulomb and viscous friction and a brake slow the spindle. The equation of motion
 * is solved in steps of 100 us; the sensor's edges lie where the mean speed of a step puts them, which at
 * 1000 counts/s is within 1e-3 of a count of the exact solution.
 */
#include <math.h>
#include <string.h>

#include "chip.h"
#include "sim_cycle_timers.h"

#define STEP_CYCLES 1600u
#define STEP_S ((double)STEP_CYCLES / CHIP_HZ)

/* The next phase border inside the present step, as an absolute cycle of the emulator; 0: none. */
static avr_cycle_count_t next_border(struct chip *c) {
    struct spindle *s = &c->spindle;
    double v = s->speed_mean, left = v > 0 ? sensor_phase_length(c) - s->place : s->place;
    if (v == 0.0) return 0;
    double cycles = left > 0 ? left / fabs(v) * CHIP_HZ : 0.0;
    if (cycles >= STEP_CYCLES) return 0;
    uint64_t at = s->phase_at + (uint64_t)cycles + 1;
    return at < s->step_at + STEP_CYCLES ? (avr_cycle_count_t)(at - c->base) : 0;
}

static avr_cycle_count_t border(avr_t *avr, avr_cycle_count_t when, void *param) {
    struct chip *c = param;
    struct spindle *s = &c->spindle;
    (void)avr;
    sensor_pass(c, s->speed_mean > 0 ? 1 : -1);
    s->place = s->speed_mean > 0 ? 0.0 : sensor_phase_length(c);
    s->phase_at = c->base + when;
    return next_border(c);
}

static avr_cycle_count_t forced_border(avr_t *avr, avr_cycle_count_t when, void *param) {
    struct chip *c = param;
    struct spindle *s = &c->spindle;
    (void)avr;
    if (!s->is_forced || s->forced_cps == 0.0 || s->phases_left == 0) return 0;
    sensor_pass(c, s->forced_cps > 0 ? 1 : -1);
    if (s->phases_left > 0) s->phases_left--;
    double even = CHIP_HZ / fabs(s->forced_cps) / sensor_phases(c);
    double gap = even * sensor_phase_length(c) + s->forced_rest;
    avr_cycle_count_t whole = (avr_cycle_count_t)gap;
    s->forced_rest = gap - (double)whole;
    return when + whole;
}

static int share_permille(struct chip *c, uint8_t pin, uint8_t connected, int compare_at) {
    uint8_t *d = c->avr->data;
    if (!(d[REG_DDRB] & pin)) return 0; /* an input: its resistor holds it off */
    if (!(d[REG_TCCR1A] & connected)) return (d[REG_PORTB] ^ c->watch.low_is_on) & pin ? 1000 : 0;
    if (!(d[REG_TCCR1B] & 7)) return 0; /* the timer stands */
    int top = d[REG_ICR1L] | d[REG_ICR1L + 1] << 8, compare = d[compare_at] | d[compare_at + 1] << 8;
    int high = top ? (compare + 1 > top ? 1000 : (compare + 1) * 1000 / (top + 1)) : 0;
    int inverting = d[REG_TCCR1A] & connected >> 1; /* the lower bit of the pair: high from compare to top */
    int is_on_low = !!(c->watch.low_is_on & pin);
    return !!inverting == is_on_low ? high : 1000 - high;
}

/* What the board asks of the switches, and what a disobedient motor makes of it. */
static void look_at_drive(struct chip *c) {
    struct spindle *s = &c->spindle;
    const struct watch *w = &c->watch;
    uint8_t *d = c->avr->data;
    int enabled = (d[REG_DDRB] & w->enable) && ((d[REG_PORTB] ^ w->low_is_on) & w->enable);
    int duty = enabled ? share_permille(c, w->duty, 0x80, REG_OCR1AL) : 0;
    int brake = share_permille(c, w->brake, 0x20, REG_OCR1BL);
    if (duty != s->duty_permille) chip_note(c, 'D', (uint32_t)duty);
    if (brake != s->brake_permille) chip_note(c, 'B', (uint32_t)brake);
    s->enabled = enabled;
    s->duty_permille = duty;
    s->brake_permille = brake;
    s->backward = (d[REG_DDRB] & w->back) && ((d[REG_PORTB] ^ w->low_is_on) & w->back);
    s->asked[s->steps % LATE_STEPS] = (uint16_t)duty;
    s->push_permille = s->asked[(s->steps - (uint64_t)s->late_steps) % LATE_STEPS];
    s->steps++;
    if (s->is_shorted) s->push_permille = 1000;
    if (watch_contactor_open(c)) s->push_permille = 0;
    if (s->push_permille && brake) s->shorts++; /* a supply shorted through switch and brake */
}

static double speed_after(const struct spindle *s) {
    double sense = s->backward ? -1.0 : 1.0, v = s->speed;
    double way = v != 0.0 ? (v > 0 ? 1.0 : -1.0) : sense; /* direction of motion, or of the push */
    double torque = 0.0;
    if (way == sense) {
        torque = s->stall * (s->push_permille / 1000.0 - fabs(v) / s->no_load);
        torque = torque < 0 ? 0 : torque > s->limit ? s->limit : torque;
    }
    double resistance = s->coulomb + s->jam + s->brake * s->brake_permille / 1000.0;
    if (v == 0.0 && torque <= resistance + s->stiction) return 0.0;
    double speed = fabs(v) + (torque - resistance - s->viscous * fabs(v)) * STEP_S;
    return speed > 0 ? way * speed : 0.0;
}

/* A belt that was stretched takes the spindle back as it comes to rest, and forward again. */
static double rocking_speed(struct spindle *s) {
    double t = (double)s->rock_step * STEP_S;
    s->rock_step++;
    if (t >= s->rock_s || s->push_permille) {
        s->rock_step = 0;
        return 0.0;
    }
    return -s->rock_way * M_PI / s->rock_s * sin(2 * M_PI * t / s->rock_s);
}

static void settle_step(struct chip *c, uint64_t now) {
    struct spindle *s = &c->spindle;
    s->place += s->speed_mean * (double)(now - s->phase_at) / CHIP_HZ;
    while (s->place >= sensor_phase_length(c)) {
        s->place -= sensor_phase_length(c);
        sensor_pass(c, 1);
    }
    while (s->place < 0.0) {
        sensor_pass(c, -1);
        s->place += sensor_phase_length(c);
    }
    double after = speed_after(s);
    if (s->rock_way != 0.0 && s->speed > 0.0 && after == 0.0) s->rock_step = 1;
    double rocking = s->rock_step && after == 0.0 ? rocking_speed(s) : 0.0;
    s->speed_mean = ((s->speed + after) / 2 + rocking) * sensor_phases(c);
    s->speed = after;
    if (s->speed_mean != 0.0) s->moved_at = now;
    if (fabs(after) > s->speed_peak) s->speed_peak = fabs(after);
    s->step_at = s->phase_at = now;
}

static avr_cycle_count_t step(avr_t *avr, avr_cycle_count_t when, void *param) {
    struct chip *c = param;
    look_at_drive(c);
    if (!c->spindle.is_forced) {
        settle_step(c, c->base + when);
        avr_cycle_count_t at = next_border(c);
        if (at) avr_cycle_timer_register(avr, at - avr->cycle, border, c);
    }
    /* The emulator computes eleven bits a byte (it counts a parity bit that 8N1 does not have). */
    if (c->uart) c->uart->cycles_per_byte = (avr_cycle_count_t)(
        10.0 * ((c->avr->data[REG_UBRR0L] | (c->avr->data[REG_UBRR0H] & 15) << 8) + 1)
        * (c->avr->data[REG_UCSR0A] & 2 ? 8 : 16));
    return when + STEP_CYCLES;
}

/* Where the spindle is, counts; to the cycle, between the steps of the equation, too. A forced run keeps no place
 * within a phase. */
double spindle_place(const struct chip *c) {
    return (sensor_phase_begin(c) + c->spindle.place) / sensor_phases(c);
}

double spindle_place_now(const struct chip *c) {
    const struct spindle *s = &c->spindle;
    double more = s->is_forced ? 0.0 : s->speed_mean * (double)(chip_now(c) - s->phase_at) / CHIP_HZ;
    return spindle_place(c) + more / sensor_phases(c);
}

void spindle_arm(struct chip *c) {
    struct spindle *s = &c->spindle;
    sensor_arm(c);
    s->step_at = s->phase_at = chip_now(c);
    avr_cycle_timer_register(c->avr, STEP_CYCLES, step, c);
    if (s->is_forced && s->forced_cps != 0.0) avr_cycle_timer_register(c->avr, 100, forced_border, c);
}

/* --- for the test -------------------------------------------------------------------------------- */

void spindle_build(struct chip *c, int kind, double stall, double limit, double no_load,
                   double coulomb, double viscous, double brake) {
    struct spindle *s = &c->spindle;
    c->sensor.kind = kind;
    s->stall = stall; s->limit = limit; s->no_load = no_load;
    s->coulomb = coulomb; s->viscous = viscous; s->brake = brake;
    s->place = 0.5; /* phase 0 rests in its middle */
    sensor_arm(c);
}

/* Turn at this speed from now on, so many counts (negative: without end). */
void spindle_force(struct chip *c, double counts_per_s, int64_t counts) {
    struct spindle *s = &c->spindle;
    avr_cycle_timer_cancel(c->avr, forced_border, c);
    avr_cycle_timer_cancel(c->avr, border, c);
    s->is_forced = 1;
    s->forced_cps = counts_per_s;
    s->forced_rest = 0.0;
    s->phases_left = counts < 0 ? -1 : counts * sensor_phases(c);
    s->speed = s->speed_mean = 0.0;
    if (counts_per_s != 0.0) avr_cycle_timer_register(c->avr, 1600, forced_border, c);
}

void spindle_let_go(struct chip *c) {
    struct spindle *s = &c->spindle;
    s->is_forced = 0;
    s->place = sensor_phase_length(c) / 2;
    s->speed = s->speed_mean = 0.0;
    s->phase_at = s->step_at = chip_now(c);
}

void spindle_jam(struct chip *c, double counts_per_s2) { c->spindle.jam = counts_per_s2; }

/* The switch of the motor conducts whatever it is told; or the motor obeys so many steps of 100 us late. */
void spindle_disobey(struct chip *c, int shorted, int late_steps) {
    c->spindle.is_shorted = shorted;
    c->spindle.late_steps = late_steps < (int)LATE_STEPS ? late_steps : (int)LATE_STEPS - 1;
}

/* Torque that only a spindle at rest resists with (counts/s2), and how far a belt takes it back (counts, s). */
void spindle_character(struct chip *c, double stiction, double rock_counts, double rock_s) {
    c->spindle.stiction = stiction;
    c->spindle.rock_way = rock_counts;
    c->spindle.rock_s = rock_s;
}

double spindle_speed(const struct chip *c) { return c->spindle.speed; }

/* The highest speed since this was asked last, counts/s. */
double spindle_peak(struct chip *c) {
    double peak = c->spindle.speed_peak;
    c->spindle.speed_peak = fabs(c->spindle.speed);
    return peak;
}
