/* The drive as the loop sees it. Drive and brake are never on together: whichever goes on waits until the other was
 * off for the dead time, by the clock of the edges: read behind the switching off and before the switching on. */
#include "loop.h"

#if CORE_MOTOR

struct motion motion;
struct known known;

float least(float a, float b) {
    return a < b ? a : b;
}

float most(float a, float b) {
    return a > b ? a : b;
}

int8_t motion_sense(void) {
    return motion.move != NULL && motion.move->counts < 0 ? -1 : 1;
}

static bool dead_time_over(void) {
    return (uint16_t)(port_clock() - motion.off_clock) > settings.dead_ms * (uint16_t)(PORT_CLOCK_HZ / 1000);
}

void motion_drive_off(void) {
    if (motion.duty_permille != 0)
        motion.off_clock = port_clock();
    motion.duty_permille = motion.duty_asked = 0;
}

void motion_switch(void) {
    bool reverse = motion.reversed != (motion_sense() < 0);
    /* The edge may cut in this very moment; whoever comes second must not switch on again. */
    uint8_t before = port_lock();
    if (!edges.cut) {
        if (motion.duty_permille != 0 && motion.duty_asked == 0) {
            port_drive(0, reverse);
            motion_drive_off();
        }
        if (motion.brake_permille != 0 && motion.brake_asked == 0) {
            port_brake(0);
            motion.brake_permille = 0;
            motion.off_clock = port_clock();
        }
        if (motion.brake_asked != 0 && (motion.brake_permille != 0 || dead_time_over())) {
            motion.brake_permille = motion.brake_asked;
            port_brake(motion.brake_permille);
        } else if (motion.duty_asked != 0 && (motion.duty_permille != 0 || dead_time_over())) {
            motion.duty_permille = motion.duty_asked;
            port_drive(motion.duty_permille, reverse);
        }
    }
    port_unlock(before);
}

static uint16_t permille(float share) {
    return (uint16_t)(least(most(share, 0.0f), 1.0f) * 1000.0f);
}

void motion_drive(float duty, float brake) {
    motion.brake_asked = permille(brake);
    motion.duty_asked = motion.brake_asked != 0 ? 0 : permille(duty);
    motion_switch();
}

void motion_cut(bool ending) {
    uint8_t before = port_lock();
    port_cut();
    edges.armed = false;
    edges.cut = false;
    port_unlock(before);
    if (motion.mode != MODE_SETTLE) { /* said again, it must not put off the rest */
        judge_settling();
        motion.quiet_ms = motion.now_ms;
    }
    motion_drive_off();
    motion.brake_asked = settings.brake_permille != 0 ? 1000 : 0;
    motion_switch();
    motion.arrived = ending;
    motion.at_rest = false;
    motion.mode = MODE_SETTLE;
}

void motion_trip(uint8_t cause) {
    motion.trip = cause;
    if (motion.mode != MODE_IDLE && motion.mode != MODE_SETTLE)
        motion_cut(false);
}

/* From now on the edge that is `before_stop` counts ahead of the place to stand at cuts the drive. */
int32_t motion_arm(uint16_t before_stop) {
    uint8_t before = port_lock();
    int32_t ahead = motion_sense() > 0 ? motion.stop_at - edges.count : edges.count - motion.stop_at;
    edges.left = ahead - before_stop;
    edges.sense = motion_sense();
    edges.reversed = motion.reversed;
    edges.cut = edges.back = false;
    edges.armed = edges.left > 0;
    int32_t left = edges.left;
    port_unlock(before);
    return left;
}

int32_t motion_to_stop(void) {
    int32_t count = edges_read(&edges.count);
    return motion_sense() > 0 ? motion.stop_at - count : count - motion.stop_at;
}

#endif
