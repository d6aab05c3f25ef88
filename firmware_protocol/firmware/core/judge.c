/* What is held against the sensor and the drive, from edges and times alone. winder/simulator/suspicion.py is
 * the same in Python, but that it weighs edges to and fro, for its sensors do not bounce.
 *
 * Silence: a motor model that errs on the slow side (twice the friction that it knows) says how far the spindle
 * must have come since the newest edge; edges to and fro are silence. Speed: the mean over some edges, with room for marks that are uneven, and
 * a change that no motor and no brake can bring about. After a cut a speed must fall; at rest nothing turns faster
 * than a hand does.
 */
#include "loop.h"

#if CORE_MOTOR

#define SILENT_COUNTS 3.0f /* the first may take a whole one, and marks are uneven */
#define STIFF 2.0f         /* times the known friction: a cold start */
#define OVERSPEED_SHARE 1.05f   /* of the highest speed */
#define OVERSPEED_UNEVEN 0.75f  /* and this over the number of edges */
#define OVERSPEED_EDGES 40
#define ASKED_SHARE 1.5f   /* of the speed asked for, and an eighth of the motor's: it runs away */
#define CHANGE_MOST 1.5f   /* times what motor, friction and brake can do to a speed */
#define UNEVEN 0.4f        /* over the number of edges: how far marks may be off */
#define FALL_WINDOW (PORT_CLOCK_HZ / 2)
#define FALL_LEAST 0.995f  /* a coasting chuck loses more in half a second */
#define FALL_EDGES 64
#define RISE_S 0.25f       /* of the second window is enough to see that it turns faster */
#define RISE_LEAST 1.1f
#define RISE_UNEVEN 0.6f   /* edges: both ends of both windows */
#define TOO_FAST_EDGES 32.0f    /* more than the highest speed can bring: at the cut it may be a twentieth faster */
#define HAND_WINDOW (PORT_CLOCK_HZ / 4)
#define HAND_SHARE 0.2f    /* of the machine's highest speed: faster than a hand turns */
#define HAND_EDGES 4

static struct {
    float speed, way;         /* of the silent spindle, at least */
    float rate, stretch_s;    /* of the edges before */
    float over_s;             /* of the mean speed that is being watched, and its edges */
    float fall_rate;          /* of the window before; 0: none */
    uint32_t window_clock;    /* the first edge of this window */
    uint16_t over_edges, window_edges, number;
    bool window_open;
} seen;

static float share_of(uint16_t permille) {
    return (float)permille * 0.001f;
}

/* The most that slows: friction and brake. */
static float slowing(void) {
    return known.full_accel * (known.friction + known.brake);
}

static void hear(float rate) {
    seen.speed = rate;
    seen.way = 0.0f;
}

void judge_begin(float rate) {
    seen.over_edges = seen.number = 0;
    seen.over_s = seen.rate = 0.0f;
    hear(rate);
}

static bool is_too_fast(uint16_t number, float stretch_s) {
    seen.over_edges = (uint16_t)(seen.over_edges + number);
    seen.over_s += stretch_s;
    float of = (float)seen.over_edges;
    bool over = of > known.rate_max * (OVERSPEED_SHARE + OVERSPEED_UNEVEN / of) * seen.over_s;
    if (seen.over_edges >= OVERSPEED_EDGES) {
        seen.over_edges = 0;
        seen.over_s = 0.0f;
    }
    return over;
}

uint8_t judge_edges(uint16_t number, float stretch_s, float rate) {
    float before = seen.rate, before_s = seen.stretch_s;
    uint16_t number_before = seen.number;
    seen.rate = rate;
    seen.stretch_s = stretch_s;
    seen.number = number;
    hear(rate);
    float limit = most(motion.top, motion.reference) * (ASKED_SHARE + OVERSPEED_UNEVEN / (float)number) +
                  known.full_rate * 0.125f;
    if (is_too_fast(number, stretch_s) || (rate > limit && rate >= before))
        return TRIP_OVERSPEED;
    if (number_before == 0)
        return TRIP_NONE;
    bool faster = rate > before;
    float change = faster ? rate - before : before - rate;
    float pull = CHANGE_MOST * (faster ? known.full_accel : slowing());
    float uneven = (UNEVEN / (float)number + UNEVEN / (float)number_before) * (faster ? rate : before);
    return change > pull * (stretch_s + before_s) + uneven ? TRIP_SENSOR_IMPLAUSIBLE : TRIP_NONE;
}

uint8_t judge_silence(float since_s, float time_s) {
    float push = share_of(motion.duty_permille) - STIFF * known.friction -
                 share_of(motion.brake_permille) * known.brake -
                 seen.speed / known.full_rate;
    seen.speed = most(seen.speed + known.full_accel * push * time_s, 0.0f);
    seen.way += seen.speed * time_s;
    if (seen.way <= SILENT_COUNTS)
        return TRIP_NONE;
    /* Sooner than friction and brake can stop it: not the spindle, the sensor. */
    return since_s * slowing() * 2.0f < seen.rate ? TRIP_SENSOR_IMPLAUSIBLE : TRIP_STALLED;
}

void judge_settling(void) {
    seen.window_open = false;
    seen.window_edges = 0;
    seen.fall_rate = 0.0f;
}

/* The mean speed of a window that is full; 0 before. */
static float window(uint16_t number, uint32_t edge_clock, uint32_t length) {
    uint32_t passed = edge_clock - seen.window_clock;
    if (seen.window_open) {
        seen.window_edges = (uint16_t)(seen.window_edges + number);
        if (passed < length)
            return 0.0f;
    }
    float rate = seen.window_open ? (float)seen.window_edges / ((float)passed * TICK_S) : 0.0f;
    seen.window_open = true;
    seen.window_clock = edge_clock;
    return rate;
}

bool judge_does_not_fall(uint16_t number, uint32_t edge_clock) {
    float before = seen.fall_rate, passed_s = (float)(edge_clock - seen.window_clock) * TICK_S;
    float limit = known.rate_max * passed_s + TOO_FAST_EDGES; /* false edges come to the end by themselves */
    if (before != 0.0f && passed_s >= RISE_S)
        limit = RISE_LEAST * before * passed_s + RISE_UNEVEN;
    bool rises = seen.window_open && (float)(seen.window_edges + number) > limit;
    float rate = window(number, edge_clock, FALL_WINDOW);
    if (rate == 0.0f)
        return rises;
    bool holds = before != 0.0f && seen.window_edges >= FALL_EDGES && rate >= FALL_LEAST * before;
    seen.window_edges = 0;
    seen.fall_rate = rate;
    return rises || holds;
}

bool judge_turns_undriven(uint16_t number, uint32_t edge_clock) {
    float rate = window(number, edge_clock, HAND_WINDOW);
    if (rate == 0.0f)
        return false;
    bool fast = seen.window_edges >= HAND_EDGES && rate > HAND_SHARE * known.rate_max;
    seen.window_edges = 0;
    return fast;
}

#endif
