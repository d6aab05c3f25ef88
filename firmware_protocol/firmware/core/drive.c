/* The drive as the loop sees it, and the arithmetic it does with whole numbers. */
#include "loop.h"

#if CORE_MOTOR

struct motion motion;

/* --- small arithmetic ------------------------------------------------------------------------- */

int32_t clamp(int64_t value, int32_t low, int32_t high) {
    return value < low ? low : value > high ? high : (int32_t)value;
}

int32_t least(int32_t a, int32_t b) {
    return a < b ? a : b;
}

int32_t share(int32_t value, uint32_t full) {
    return clamp((int64_t)value * FULL / (int64_t)full, -4 * FULL, 4 * FULL);
}

/* Bit by bit. */
int32_t root(uint64_t of) {
    uint64_t rest = of, found = 0, bit = (uint64_t)1 << 62;
    while (bit > rest)
        bit >>= 2;
    for (; bit != 0; bit >>= 2) {
        if (rest >= found + bit) {
            rest -= found + bit;
            found = (found >> 1) + bit;
        } else {
            found >>= 1;
        }
    }
    return (int32_t)found;
}

int32_t gained(int32_t value, uint32_t gain_permille) {
    return clamp((int64_t)value * (int64_t)gain_permille / 1000, -SPEED_MAX, SPEED_MAX);
}

/* --- the drive -------------------------------------------------------------------------------- */

int8_t motion_sense(void) {
    return motion.move != NULL && motion.move->counts < 0 ? -1 : 1;
}

void motion_drive(int32_t duty, int32_t brake) {
    /* Divisions come first: with interrupts off they would cost edges. */
    uint16_t brake_permille = (uint16_t)(clamp(brake, 0, FULL) / 1000);
    uint16_t duty_permille = (uint16_t)(clamp(duty, 0, FULL) / 1000);
    if (brake_permille)
        duty_permille = 0;
    bool reverse = motion.reversed != (motion_sense() < 0);
    /* The edge may cut in this very moment; whoever comes second must not switch on again. */
    uint8_t before = port_lock();
    if (!edges.cut) {
        motion.duty_permille = duty_permille;
        motion.brake_permille = brake_permille;
        port_brake(brake_permille);
        port_drive(duty_permille, reverse);
    }
    port_unlock(before);
}

bool motion_has_brake(void) {
    return motor.brake_permille != 0;
}

/* Drive off at once, brake on where there is one. */
void motion_cut(bool ending) {
    uint8_t before = port_lock();
    port_cut(motion_has_brake());
    edges.armed = false;
    edges.cut = false;
    port_unlock(before);
    motion.duty_permille = 0;
    motion.brake_permille = motion_has_brake() ? 1000 : 0;
    motion.quiet_ms = motion.now_ms;
    motion.arrived = ending;
    motion.mode = MODE_SETTLE;
}

void motion_trip(uint8_t cause) {
    motion.trip = cause;
    if (motion.mode != MODE_IDLE)
        motion_cut(false);
}

/* From now on the edge that is `before_stop` counts ahead of the place to stand at cuts the drive. */
int32_t motion_arm(uint16_t before_stop) {
    uint8_t before = port_lock();
    int32_t ahead = motion_sense() > 0 ? motion.stop_at - edges.count : edges.count - motion.stop_at;
    edges.left = ahead - before_stop;
    edges.brake_at_cut = before_stop == 0 && motion_has_brake();
    edges.sense = motion_sense();
    edges.reversed = motion.reversed;
    edges.cut = false;
    edges.armed = edges.left > 0;
    int32_t left = edges.left;
    port_unlock(before);
    return left;
}

int32_t motion_to_stop(void) {
    int32_t count = edges_now().count;
    return motion_sense() > 0 ? motion.stop_at - count : count - motion.stop_at;
}

#endif
