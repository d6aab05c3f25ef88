/* What differs from machine to machine: change it here, or with -D when building, and load the board anew.
 *
 * The defaults fit the small bench machine that the rehearsals know: 20 counts a turn, 1500 rpm at most.
 * Measure yours: a wrong figure makes the speed loop sluggish, never the count wrong.
 */
#ifndef PORT_SETTINGS_H
#define PORT_SETTINGS_H

/* 16 MHz divides 500000 baud exactly; 115200 is 2.1 % off, which still works. */
#ifndef SETTING_BAUD
#define SETTING_BAUD 500000UL
#endif

/* How the spindle's sensor is wired and what a count is:
 *   1  one pulse a count on A; no sense of direction
 *   2  A and B a quarter period apart, two counts a period (every edge of A)
 *   4  A and B a quarter period apart, four counts a period (every edge of both) */
#ifndef SETTING_SENSOR
#define SETTING_SENSOR 4
#endif

/* A level must have lasted so long before it counts, in microseconds, at most 40: the interrupt waits for it, and
 * bytes would be lost meanwhile. 0: as long as the interrupt takes to look, some 3 us. What bounces longer needs a
 * capacitor. An A/B sensor corrects a disturbance that falls between its edges: it counts one up and one down. */
#ifndef SETTING_FILTER_US
#define SETTING_FILTER_US (SETTING_SENSOR == 1 ? 4 : 0)
#endif

/* One channel only. An edge so soon after another is its bounce (a reed bounces at every pulse), in microseconds; the
 * highest rate times this must not be above one half. And the shortest true period: half of that at the highest rate,
 * for marks may be 30 % uneven and the speed a fifth too high. An edge that comes sooner is not counted but told. */
#ifndef SETTING_BOUNCE_US
#define SETTING_BOUNCE_US (SETTING_SENSOR == 1 ? 160000000UL / SETTING_RATE_MAX_MCPS : 0)
#endif
#ifndef SETTING_LEAST_PERIOD_US
#define SETTING_LEAST_PERIOD_US (SETTING_SENSOR == 1 ? 480000000UL / SETTING_RATE_MAX_MCPS : 0)
#endif

/* Half of what is counted without loss at full traffic, or less (docs/firmware.md tells how it was measured). A
 * pulse has two interrupts, and the filter's time in each; with two counts a period the way is read from B, which
 * changes half a count later. */
#ifndef SETTING_EDGE_RATE_MAX_CPS
#if SETTING_SENSOR == 1
#define SETTING_EDGE_RATE_MAX_CPS (1000000UL / (6 * (SETTING_FILTER_US + 15)))
#else
#define SETTING_EDGE_RATE_MAX_CPS (SETTING_SENSOR * 250000UL / (SETTING_FILTER_US * 3 + 40))
#endif
#endif

/* The motor, in counts of the sensor (struct motor in core/motion.h). */
#ifndef SETTING_FULL_RATE_MCPS
#define SETTING_FULL_RATE_MCPS 759000UL
#endif
#ifndef SETTING_FULL_ACCEL_MCPS2
#define SETTING_FULL_ACCEL_MCPS2 1387000UL
#endif
#ifndef SETTING_FRICTION_PERMILLE
#define SETTING_FRICTION_PERMILLE 151
#endif
#ifndef SETTING_BRAKE_PERMILLE
#define SETTING_BRAKE_PERMILLE 1034 /* 0: no brake */
#endif
#ifndef SETTING_RATE_MAX_MCPS
#define SETTING_RATE_MAX_MCPS 500000UL
#endif

/* Drive and brake: both are off for longer than this in between, in milliseconds, 1 or more. */
#ifndef SETTING_DEAD_MS
#define SETTING_DEAD_MS 1
#endif

/* 1: the output is on while its pin is low. The resistor that holds it off while pins float goes up then, not down. */
#ifndef SETTING_ENABLE_LOW
#define SETTING_ENABLE_LOW 0
#endif
#ifndef SETTING_DUTY_LOW
#define SETTING_DUTY_LOW 0
#endif
#ifndef SETTING_BRAKE_LOW
#define SETTING_BRAKE_LOW 0
#endif
#ifndef SETTING_BACKWARD_LOW
#define SETTING_BACKWARD_LOW 0
#endif
#ifndef SETTING_CONTACTOR_LOW
#define SETTING_CONTACTOR_LOW 0
#endif

/* After a stop, a lost lease or the end: by the first the drive is cut and the brake on, by the second the spindle
 * rests. Measure how long yours coasts from its highest speed with the heaviest chuck, and allow half as much again. */
#ifndef SETTING_CUT_MS
#define SETTING_CUT_MS 2000
#endif
#ifndef SETTING_REST_MS
#define SETTING_REST_MS 8000
#endif

/* The guide: steps that move it by a metre, microsteps included (0: there is none); how far it goes to the right of
 * the left mark, in micrometres; and the most steps a second, which is also how fast a move at the bench is. They
 * come at once, without a ramp: stay below what the motor starts with under its load. At most 20000. */
#ifndef SETTING_STEPS_PER_M
#define SETTING_STEPS_PER_M 400000UL
#endif
#ifndef SETTING_TRAVEL_UM
#define SETTING_TRAVEL_UM 100000UL
#endif
#ifndef SETTING_STEPS_PER_S_MAX
#define SETTING_STEPS_PER_S_MAX 4000
#endif

/* 1: a guard switch that is open when the guard is; 1: a sensor that sees the wire. */
#ifndef SETTING_GUARD
#define SETTING_GUARD 1
#endif
#ifndef SETTING_WIRE_SENSOR
#define SETTING_WIRE_SENSOR 1
#endif

#endif
