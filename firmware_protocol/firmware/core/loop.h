/* The control loop's state and what its files share: orders (motion.c), the drive (drive.c), what is held against
 * sensor and drive (judge.c), the loop (loop.c). Nothing outside of these includes it.
 *
 * Counts, milliseconds and ticks of port_clock() are integers; speeds (counts/s, without sign), accelerations and
 * shares of duty are single floats, which a chip without a unit for them adds and multiplies faster than long
 * integers. No float ever decides what is counted, or when the drive is cut.
 */
#ifndef CORE_LOOP_H
#define CORE_LOOP_H

#include "edges.h"
#include "kept.h"
#include "settings.h"

#define STEP_MS 10
#define STEP_S 0.01f
#define TICK_S (1.0f / (float)PORT_CLOCK_HZ)

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
    bool waiting;         /* for the memory and the guide, before anything turns */
    float accel, stop_accel, creep, top;
    float slow_accel;     /* what the time for slowing down asks of the speed at its begin */
    uint16_t rest_ms;     /* silence that means rest */
    /* how it goes */
    bool at_rest, arrived;
    uint8_t trip;
    uint32_t now_ms, step_ms, quiet_ms, edge_ms, saturated_ms;
    uint32_t clock, step_clock, edge_clock; /* port_clock() carried on to 32 bits: now, newest step, newest edge */
    uint16_t seen;
    uint8_t missed, backward, turns;
    uint8_t edges_known;  /* since the order began, stays at 3 */
    float way;            /* reference way since the newest edge */
    float reference, rate;
    float proportional, integral, boost, nudge_duty;
    /* the drive */
    uint16_t off_clock;   /* port_clock() when drive or brake went off */
    uint16_t duty_permille, brake_permille; /* as switched */
    uint16_t duty_asked, brake_asked;
};

extern struct motion motion;

/* The motor as its settings have it, in counts and seconds and shares of full duty. */
struct known {
    float full_rate, full_accel, friction, brake, rate_max;
};

extern struct known known;

/* drive.c */
float least(float a, float b);
float most(float a, float b);
int8_t motion_sense(void);                  /* way of the order: +1 winds */
void motion_drive(float duty, float brake); /* shares, clamped */
void motion_drive_off(void);                /* its pins are off already: the dead time begins */
void motion_switch(void);                   /* what was asked of drive and brake, as soon as the dead time is over */
void motion_cut(bool ending);               /* drive off at once, brake on after the dead time; ending: as was meant */
void motion_trip(uint8_t cause);
int32_t motion_arm(uint16_t before_stop);   /* edges left until the cut */
int32_t motion_to_stop(void);               /* counts left to the place to stand at */

/* judge.c; each that returns a cause returns TRIP_NONE if there is none */
void judge_begin(float rate);
uint8_t judge_edges(uint16_t number, float stretch_s, float rate);
uint8_t judge_silence(float since_s, float time_s);
void judge_settling(void);                  /* the drive was cut, or a rest has begun */
bool judge_does_not_fall(uint16_t number, uint32_t edge_clock);
bool judge_turns_undriven(uint16_t number, uint32_t edge_clock);

/* motion.c */
void motion_take_leg(void); /* limits and the next stop, from where the count is now */

/* loop.c */
void motion_begin_nudge(void);
void motion_take_cut(void); /* the edge has cut the drive by itself */

#endif
