/* TEST ONLY. Links libsimavr, which is GPL-3-or-later; this folder is therefore never part of what is
 * shipped: neither the host program nor the firmware contains or needs anything of it.
 *
 * One ATmega328P that runs an unmodified ELF, a serial line, and a spindle with a sensor on its pins.
 * Time is the chip's own cycles, 16 000 000 a second, and everything is queued at absolute cycles, so the
 * same calls give the same run, bit for bit. The emulator's known deviations from the real part are
 * mended in chip.c; each place says which.
 */
#ifndef EMULATOR_CHIP_H
#define EMULATOR_CHIP_H

#include <stdint.h>

#include "sim_avr.h"
#include "sim_elf.h"
#include "sim_irq.h"
#include "avr_uart.h"

#define CHIP_HZ 16000000ull
#define LINE_BYTES 65536u /* waiting in one direction, a power of two */
#define VECTORS 26

/* Registers of the ATmega328P as data addresses (its data sheet, "Register Summary"). */
enum {
    REG_PINB = 0x23, REG_DDRB = 0x24, REG_PORTB = 0x25,
    REG_PINC = 0x26, REG_DDRC = 0x27, REG_PORTC = 0x28,
    REG_EECR = 0x3F, REG_MCUSR = 0x54, REG_WDTCSR = 0x60, REG_TCCR1A = 0x80, REG_TCCR1B = 0x81,
    REG_ICR1L = 0x86, REG_OCR1AL = 0x88, REG_OCR1BL = 0x8A,
    REG_UCSR0A = 0xC0, REG_UBRR0L = 0xC4, REG_UBRR0H = 0xC5,
};

enum sensor_kind {
    SENSOR_ONE_PULSE = 1, /* one pulse a count on A, no sense of direction */
    SENSOR_TWO_EDGES = 2, /* A and B in quadrature, two counts a period: the edges of A */
    SENSOR_FOUR_EDGES = 4 /* A and B in quadrature, four counts a period: all edges */
};

enum channel_state { CHANNEL_THERE, CHANNEL_STAYS, CHANNEL_HIGH, CHANNEL_LOW }; /* its wire is off: what is read */

#define LATE_STEPS 16384u /* of 100 us, a power of two: as long as the motor may obey late */

struct channel {
    struct chip *chip;
    int level;                /* as the sensor truly is */
    int bouncing, bounces_left;
    int lost;                 /* enum channel_state */
};

struct sensor {
    int kind;                 /* enum sensor_kind */
    struct channel channel[2];
    int exchanged;
    int64_t phase;            /* phases gone: counts times phases a count */
    double *bend;             /* offsets of a turn's borders from their even places, phases */
    int bend_length;
    uint32_t shown, seed;
    uint64_t edges;           /* counts that passed, either way */
    int bounce_number, bounce_on, bounce_scatters;
    uint64_t bounce_width, bounces;
    int disturbed, disturbed_now, disturbed_channels, disturbances_left, disturb_scatters;
    uint64_t disturb_width, disturb_period, disturbances;
};

/* The spindle in counts of its sensor: accelerations in counts/s2, speeds in counts/s. */
struct spindle {
    double stall, limit, no_load, coulomb, viscous, brake;
    double jam;               /* counts/s2 of a spindle held fast */
    double stiction;          /* counts/s2 more that only a spindle at rest resists with */
    double rock_way, rock_s;  /* counts, s: a belt takes it back so far as it comes to rest */
    uint64_t rock_step;       /* of the rocking under way; 0: none */
    double forced_cps;        /* with is_forced: this speed, whatever the drive does */
    int is_forced;
    double speed;             /* counts/s, signed */
    double speed_peak;
    double place;             /* phases gone within the present one, 0 to its length */
    uint64_t step_at, phase_at; /* cycle of the newest step, and of the newest forced phase */
    uint64_t moved_at;        /* cycle of the newest step in which it moved */
    double speed_mean;        /* phases/s over the step under way */
    double forced_rest;       /* fraction of a cycle carried to the next forced phase */
    int64_t phases_left;      /* forced run: stop after so many; negative: no end */
    int duty_permille, brake_permille, enabled, backward; /* as the board asks */
    int push_permille;        /* as the motor does */
    int is_shorted, late_steps;
    uint64_t steps, shorts;   /* steps of the equation; those in which motor and brake worked at once */
    uint16_t asked[LATE_STEPS];
};

/* Drive and brake pins, cycle by cycle. */
struct watch {
    uint8_t enable, duty, brake, back; /* bits of port B */
    uint8_t low_is_on;
    int contactor_port, contactor_closes_high;
    uint8_t contactor_pin;
    int drive_on, brake_on;
    uint64_t drive_off_at, brake_off_at, both_since;
    uint64_t overlaps, overlap_most, drive_to_brake, brake_to_drive; /* least gaps; 0: none seen */
    uint64_t drives, brakes;
};

/* The guide's motor as its driver sees it: a step as the step pin (PC0) rises, rightward while PC1 is high. */
struct step_made {
    uint64_t at;      /* cycle */
    double spindle;   /* place of the spindle at that moment, counts */
    int64_t place;    /* of the guide after it, steps from where it was at power-up */
};

struct guide {
    int64_t place;
    uint64_t made, kept;          /* steps; those that `trace` holds */
    struct step_made *trace;
    int rightward, high;
    uint64_t way_at, rise_at;     /* cycles of the newest change */
    uint64_t gap_least, high_least, set_up_least; /* cycles; 0: none seen */
};

struct vector_times {
    uint64_t calls, cycles, least, most, since;
};

struct chip {
    avr_t *avr;
    avr_uart_t *uart;
    elf_firmware_t firmware;
    avr_irq_t *to_uart, *pin_a, *pin_b, *port_c[6];
    uint64_t base;            /* added to the emulator's cycles: newer ones begin anew at a reset */
    int state;                /* of the emulator's core; cpu_Done and cpu_Crashed are failures */
    uint64_t held_until;      /* in reset (a boot loader, a supply that is gone) until this cycle */
    uint8_t c_driven, c_levels; /* pins of port C that the machine drives, and how */
    /* serial line */
    double host_baud;
    uint8_t in[LINE_BYTES];
    uint64_t in_at[LINE_BYTES];
    uint32_t in_head, in_tail;
    int in_busy;
    uint8_t out[LINE_BYTES];
    uint64_t out_at[LINE_BYTES];
    uint32_t out_head, out_tail;
    uint64_t out_last;
    /* what is watched */
    uint64_t overruns, resets, hash, bytes_in, bytes_out;
    uint64_t ee_writes, ee_too_soon, ee_last;
    uint64_t edge_raised[3], latency_most;
    struct vector_times vectors[VECTORS];
    /* a program that hangs */
    uint32_t hung_at;
    uint8_t hung_bytes[4];
    int is_hung;
    int was_reset;            /* the core came out of a reset that was not ours */
    void (*core_reset)(avr_t *);
    struct sensor sensor;
    struct spindle spindle;
    struct watch watch;
    struct guide guide;
};

uint64_t chip_now(const struct chip *c);
void chip_note(struct chip *c, char kind, uint32_t value);
void sensor_arm(struct chip *c);         /* after every reset: levels driven anew */
void sensor_pass(struct chip *c, int way);
void sensor_drive_pins(struct chip *c);
int sensor_phases(const struct chip *c); /* of a count */
double sensor_phase_length(const struct chip *c); /* of the present one; 1 where borders are even */
double sensor_phase_begin(const struct chip *c);
int64_t sensor_count(const struct chip *c);
double sensor_draw(struct chip *c);
void spindle_arm(struct chip *c);        /* after every reset: timers, and the sensor */
double spindle_place_now(const struct chip *c);
void watch_begin(struct chip *c);        /* once, at power-up */
void watch_look(struct chip *c);
int watch_contactor_open(const struct chip *c);
void guide_watch(struct chip *c);        /* once, at power-up */
void guide_reset(struct chip *c);        /* pins float: no step, no way */

#endif
