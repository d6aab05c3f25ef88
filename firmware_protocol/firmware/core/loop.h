/* The control loop's state and what its three files share: orders (motion.c), the drive and small arithmetic
 * (drive.c), the loop (loop.c). Nothing outside of these includes it.
 *
 * Integers only. Speeds are thousandths of a count per second, times are ticks of port_clock() or
 * milliseconds, shares of duty are millionths.
 */
#ifndef CORE_LOOP_H
#define CORE_LOOP_H

#include "edges.h"
#include "kept.h"
#include "motion.h"

#define FULL 1000000 /* full duty in millionths */
#define SPEED_MAX (INT32_MAX / 4)
#define ACCEL_MAX (INT32_MAX / 4)

enum mode {
    MODE_IDLE,   /* nothing drives */
    MODE_TRACK,  /* closed loop towards a stop */
    MODE_SLOW,   /* closed loop towards rest, wherever that is */
    MODE_COAST,  /* cut early, on the way to rest */
    MODE_NUDGE,  /* open loop, looking for the target edge */
    MODE_SETTLE, /* cut and braked, waiting for silence */
};

struct motion {
    /* what is asked */
    const struct plan *plan;
    const struct move *move;
    int32_t stop_at;      /* count to stand at */
    int32_t move_end;
    int32_t leg_end;      /* the present leg's */
    uint16_t coast_counts;
    uint16_t pace_permille;
    uint8_t order, mode;
    bool reversed;
    bool waiting;         /* for AT_REST to be taken back in the memory */
    int32_t accel_mcps2, stop_accel_mcps2, creep_mcps, top_mcps;
    uint32_t slow_mcounts; /* so far before the stop the top speed ends */
    uint16_t rest_ms;     /* silence that means rest */
    /* how it goes */
    bool at_rest, arrived;
    uint8_t trip;
    uint32_t now_ms, step_ms, quiet_ms, edge_ms, saturated_ms;
    uint32_t clock, step_clock, edge_clock; /* port_clock() carried on to 32 bits: now, newest step, newest edge */
    uint16_t seen, against;
    uint8_t missed;
    uint8_t edges_known;  /* since the order began, stays at 3 */
    uint32_t stretch;     /* ticks between the newest two edges that were looked at */
    int64_t way;          /* reference way since the newest edge */
    int32_t reference_mcps, rate_mcps; /* without sign */
    int32_t proportional_mcps2, integral_mcps;
    int32_t boost, nudge_duty; /* millionths */
    uint16_t duty_permille, brake_permille;
};

extern struct motion motion;

/* drive.c */
int32_t clamp(int64_t value, int32_t low, int32_t high);
int32_t least(int32_t a, int32_t b);
int32_t share(int32_t value, uint32_t full);          /* value / full in millionths, within four times full */
int32_t root(uint64_t of);                            /* whole square root */
int32_t gained(int32_t value, uint32_t gain_permille); /* value times a gain in thousandths */
int8_t motion_sense(void);                            /* way of the order: +1 winds */
bool motion_has_brake(void);
void motion_drive(int32_t duty, int32_t brake);       /* millionths */
void motion_cut(bool ending);                         /* drive off at once, brake on; ending: as was meant */
void motion_trip(uint8_t cause);
int32_t motion_arm(uint16_t before_stop);             /* edges left until the cut */
int32_t motion_to_stop(void);                         /* counts left to the place to stand at */

/* motion.c */
void motion_take_leg(void); /* limits and the next stop, from where the count is now */

/* loop.c */
void motion_begin_nudge(void);
void motion_take_cut(void); /* the edge has cut the drive by itself */

#endif
