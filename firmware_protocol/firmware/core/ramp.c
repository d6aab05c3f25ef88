#include "ramp.h"

#include "loop.h"

#if CORE_FAR

#include <math.h>

#define SETTLE_MS 20    /* for which a contact must have been so */
#define BACK_STEPS 8000 /* off the switch; then it is stuck, or its cable is broken */
#define BACK_SHARE 0.25f /* of the speed at which the motor starts of itself */
#define LEAST_A_MS 0.01f

enum { STANDS, MOVES, SEEKS, MET, BACKS, FREE };

static struct {
    float speed, start, top, accel;
    float way, gone; /* of this phase, whole and so far */
    int32_t from;
    int32_t home_um; /* where the switch is */
    int8_t sense;
    uint8_t phase;
    uint8_t settled_ms;
    bool beyond;     /* asked beyond its travel */
} ramp;

static void begin(uint8_t phase, int32_t from, int32_t way, float top) {
    ramp.phase = phase;
    ramp.from = from;
    ramp.sense = way < 0 ? -1 : 1;
    ramp.way = (float)(way < 0 ? -way : way);
    ramp.gone = 0.0f;
    ramp.top = most(least(top, RAMP_A_MS_MOST), LEAST_A_MS);
    ramp.speed = ramp.start = least((float)settings.steps_a_ms, ramp.top);
}

/* An eighth more than it can be away from the switch. */
static int32_t way_to_switch(int32_t home) {
    uint32_t way = settings.travel_steps + (uint32_t)(home < 0 ? -home : home);
    return (int32_t)(way + way / 8u);
}

void ramp_begin(const struct far *ask, int32_t from, int32_t by, int32_t to) {
    float step_um = (float)settings.step_pm * 1.0e-6f;
    float top = (float)ask->rate_um_s * 0.001f / step_um;
    ramp.accel = (float)ask->accel_um_s2 * 1.0e-6f / step_um;
    ramp.home_um = ask->um;
    ramp.beyond = !ask->home && to != from + by;
    if (ask->home)
        begin(SEEKS, from, -way_to_switch(by), top);
    else
        begin(MOVES, from, to - from, top);
}

void ramp_slow(void) {
    if (ramp.phase != MOVES && ramp.phase != SEEKS) {
        ramp.phase = STANDS;
        return;
    }
    float needs = (ramp.speed * ramp.speed - ramp.start * ramp.start) / (2.0f * ramp.accel);
    ramp.phase = MOVES;
    ramp.way = least(ramp.way, ramp.gone + needs);
    ramp.beyond = false;
}

void ramp_halt(void) {
    ramp.phase = STANDS;
}

bool ramp_goes(void) {
    return ramp.phase != STANDS;
}

int32_t ramp_home_um(void) {
    return ramp.home_um;
}

bool ramp_homes(void) {
    return ramp.phase > MOVES;
}

static uint8_t end(uint8_t how) {
    ramp.phase = STANDS;
    return how;
}

/* A millisecond on; at the end of its way, and the guide with it, it is over. */
static uint8_t advance(int32_t place, int32_t *target, uint8_t at_end) {
    float left = ramp.way - ramp.gone;
    float slows = sqrtf(ramp.start * ramp.start + 2.0f * ramp.accel * left);
    ramp.speed = least(least(ramp.speed + ramp.accel, ramp.top), slows);
    ramp.gone = least(ramp.gone + ramp.speed, ramp.way);
    *target = ramp.from + ramp.sense * (int32_t)(ramp.gone + 0.5f);
    return ramp.gone >= ramp.way && *target == place ? end(at_end) : RAMP_GOES;
}

static uint8_t stand(uint8_t phase) {
    ramp.phase = phase;
    ramp.settled_ms = 0;
    return RAMP_GOES;
}

/* A contact that has changed back within its time to settle is not to be trusted. */
static uint8_t settle(int32_t place) {
    bool met = ramp.phase == MET;
    if (++ramp.settled_ms < SETTLE_MS)
        return RAMP_GOES;
    if (port_limit_met() != met)
        return end(RAMP_LOST);
    if (met) {
        begin(BACKS, place, BACK_STEPS, (float)settings.steps_a_ms * BACK_SHARE);
        return RAMP_GOES;
    }
    return end(RAMP_HOME);
}

uint8_t ramp_tick(int32_t place, int32_t *target) {
    switch (ramp.phase) {
    case MOVES: return advance(place, target, ramp.beyond ? RAMP_LOST : RAMP_ARRIVED);
    case SEEKS: return port_limit_met() ? stand(MET) : advance(place, target, RAMP_LOST);
    case BACKS: return port_limit_met() ? advance(place, target, RAMP_LOST) : stand(FREE);
    default: return settle(place);
    }
}

#endif
