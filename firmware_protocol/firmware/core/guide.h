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
void guide_lead_far(const struct far *ask); /* with CORE_FAR */
void guide_tick(int64_t at);
float guide_rate_most(const struct msg_plan_leg *leg); /* counts/s at which the guide still follows */
bool guide_busy(void);      /* on its way to where it is led */
void guide_facts(struct facts *facts);
bool guide_at_limit(void);  /* it was led beyond its travel */

#endif

#endif
