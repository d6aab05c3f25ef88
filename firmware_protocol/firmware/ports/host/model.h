/* A spindle with a motor, in few lines: enough to wind on, made to differ from what the core knows of it.
 *
 *     dv/dt = a (duty - v / v_free) - friction - brake,   friction holds the spindle at v = 0
 *
 * in counts and seconds, in steps of 20 us. It moves the host port's clock and its edges.
 */
#ifndef HOST_MODEL_H
#define HOST_MODEL_H

#include "host.h"

struct model {
    double free_cps;       /* speed at full duty without load */
    double accel_cps2;     /* at full duty from rest, without friction */
    double friction_cps2;
    double brake_cps2;     /* full brake, 0: none */
    double uneven;         /* share by which the sensor's slots differ from one another */
    bool held;             /* a spindle held fast */
    bool dark;             /* a sensor that sees nothing */
    /* state */
    double place;          /* counts */
    double speed_cps;
    double next_up, next_down; /* places of the edges on both sides */
    double tick_rest;      /* part of a clock tick */
};

extern struct model model;

/* A true machine that is off from what `motor` says by up to 10 %, by seed; stands still at nought. */
void model_build(uint32_t seed, bool brake);

/* Milliseconds of machine and board together; returns what the spindle has turned, in whole counts. */
int32_t model_run(uint32_t milliseconds);

#endif
