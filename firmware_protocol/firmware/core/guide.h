/* The traverse: where the guide is led, and the pulses that bring it there.
 *
 * The guide's place is a function of the count (specification, section 12). A leg is walked in stretches, strokes
 * and waits by turns, whose borders are kept as counts with 32 bits of fraction, so nothing drifts and unwinding
 * finds the same borders again. Once a millisecond guide_tick() says how many steps the next millisecond takes; the
 * port's timer gives them, evenly spread. A main loop that hangs ends the pulses within two milliseconds.
 */
#ifndef CORE_GUIDE_H
#define CORE_GUIDE_H

#include "body.h"

#if CORE_MOTOR

/* What a port says of its guide; TRAVERSE_OF makes it from what one measures. */
struct traverse {
    uint32_t step_pm;     /* one step, picometres; 0: no guide */
    uint32_t step_um_q24; /* the same as micrometres times 2^24 */
    int32_t travel_steps; /* from the left mark */
    uint8_t steps_a_ms;   /* the fastest, 1 to 125 */
};

#define TRAVERSE_OF(steps_per_m, travel_um, steps_per_s) {                                                  \
    .step_pm = (uint32_t)((UINT64_C(1000000000000) + (steps_per_m) / 2) / (steps_per_m)),                    \
    .step_um_q24 = (uint32_t)((UINT64_C(16777216) * 1000000 + (steps_per_m) / 2) / (steps_per_m)),           \
    .travel_steps = (int32_t)(UINT64_C(1) * (travel_um) * (steps_per_m) / 1000000),                          \
    .steps_a_ms = (steps_per_s) / 1000,                                                                      \
}

extern PORT_CONST struct traverse traverse;

struct steps {
    int32_t place; /* where the guide stands, in steps from the left mark */
    uint8_t todo;  /* of the present millisecond, and some of the next */
    int8_t way;    /* +1 rightward, -1 leftward */
    bool high;     /* the step pin */
};

extern volatile struct steps steps;

/* From the interrupt of the port's step timer, once every half step. False: stop the timer. The way changes only
 * while the step pin is low, half a step before it rises at the earliest. */
static inline bool guide_pulse(void) {
    if (steps.high) {
        port_step(false);
        steps.high = false;
        port_step_way(steps.way > 0);
        return steps.todo != 0;
    }
    if (steps.todo == 0)
        return false;
    port_step(true);
    steps.high = true;
    steps.todo--;
    steps.place += steps.way;
    return true;
}

/* All for the main loop. Counts are those of the wind; `at` has 32 bits of fraction. */
void guide_boot(void);
void guide_follow(const struct plan *plan, int32_t count); /* begin at this count, or go on along the same way */
void guide_go_along(void);  /* with the count, if a plan has led it and nothing has moved it since */
void guide_halt(void);      /* no more steps, whatever was asked */
void guide_end_step(void);  /* a traverse step ends early */
void guide_forget(void);    /* the way of the plan; the guide stands where it is */
void guide_mark(uint8_t side, int32_t at_um);
void guide_step(int32_t distance_um);
void guide_tick(int64_t at);
float guide_rate_most(const struct leg *leg); /* counts/s at which the guide still follows */
bool guide_busy(void);      /* on its way to where it is led */
void guide_facts(struct facts *facts);
bool guide_at_limit(void);  /* it was led beyond its travel */

#endif

#endif
