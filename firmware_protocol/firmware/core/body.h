/* The seam between what decides (board.c, device.c) and what moves (motion.c, counter.c, a test's script).
 *
 * The board decides whether something may move; the body decides how: it keeps the count, runs the
 * trapezoid, creeps, stops on the count by itself and says what is so. One body is linked in; there is no
 * table of functions, so a small chip pays nothing for the seam.
 */
#ifndef CORE_BODY_H
#define CORE_BODY_H

#include "hal.h"

enum order {
    ORDER_OFF,  /* nothing drives, brake off */
    ORDER_WIND, /* follow the legs from the present count */
    ORDER_REST, /* slow down as the leg or the move says, then hold nothing */
    ORDER_MOVE, /* one finite spindle move */
    ORDER_CUT,  /* drive off at once, brake on where there is one */
    ORDER_ISOLATE, /* drive and brake off, the contactor of the motor's supply open until OFF */
};

struct plan {
    uint8_t legs; /* 0: no plan */
    uint8_t generation;
    struct msg_plan_leg leg[CORE_LEGS_MAX];
};

struct move {
    int32_t counts;
    uint32_t rate_mcps;
    uint32_t accel_mcps2;
};

/* Of the guide, with a ramp: to its limit switch and off it, whose place is `um`; or by so much. */
struct far {
    bool home;
    int32_t um;
    uint32_t rate_um_s;
    uint32_t accel_um_s2;
};

/* The order in force. What it points to stays unchanged while the order is in force. */
struct drive {
    uint8_t order;
    const struct plan *plan; /* with WIND, and with REST from it; else NULL */
    uint16_t pace_permille;
    bool reversed; /* winding turns the motor backward, says the plan in force; false without one */
    const struct move *move; /* with MOVE, and with REST from it; else NULL */
};

struct facts {
    int32_t count;
    int32_t rate_mcps;
    int32_t traverse_um;
    uint16_t unattributed;
    uint16_t implausible; /* edges that came too soon to be true, not counted */
    uint8_t trip; /* a cause that is present now; TRIP_. With the drive off only those that isolate count */
    bool at_rest;   /* nothing drives and the sensor has been quiet for long enough */
    bool arrived;   /* this order ended where it was meant to */
    bool guard_open;
    bool wire_present;
    bool traverse_rightward;
    bool brake_on;
#if CORE_PEDAL
    bool stop_pressed;  /* the wired stop switch */
    bool pedal_pressed; /* the contact as it is, not yet settled */
#endif
};

struct kept_record {
    uint32_t wind;
    int32_t count;
    bool valid;
    bool at_rest;
};

void body_boot(void);
void body_tick(uint32_t now_ms); /* at least once a millisecond or as often as the main loop gets to it */
void body_obey(const struct drive *drive); /* replaces the order before; works from now on */
void body_facts(struct facts *facts);
void body_open_wind(uint32_t wind); /* count, unattributed and implausible to nought */
void body_close_wind(void);
void body_new_plan(void); /* another plan is in force: the way of the one before ends */
void body_mark_traverse(uint8_t side, int32_t at_um);
void body_step_traverse(int32_t distance_um);
void body_lead_far(const struct far *ask); /* with CORE_FAR */
void body_keep(const struct kept_record *record);
void body_kept(struct kept_record *record);
void body_keep_motion(bool moving); /* remembered beyond a reset; nothing moves before it is */
bool body_kept_motion(void);

#endif
