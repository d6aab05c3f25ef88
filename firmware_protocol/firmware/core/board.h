/* What moves and what is remembered: the board between its table of states and its body.
 *
 * board_look() compares the body's facts with the state and lets happen what must: arrival, rest, trips, the
 * end of the lease. The other functions are the effects of commands that device.c has judged. Every change
 * of state goes through BOARD_TABLE of messages.h. This is device_board.py in C; the two must answer alike.
 */
#ifndef CORE_BOARD_H
#define CORE_BOARD_H

#include "body.h"
#include "settings.h"

#define PACE_FULL_PERMILLE 1000

struct board {
    struct facts facts; /* as of the newest look */
    uint32_t now_ms, booted_ms;
    uint32_t wind;
    int32_t target; /* 0: none, or already called out */
    uint16_t revision;
    uint8_t state, reason, trip;
#if CORE_MOTOR
    struct plan plans[2]; /* one in force, one loading */
    struct move move;
    uint32_t loading_checksum; /* over the legs that came */
    int32_t loading_end; /* the last one's end_count */
    uint16_t pace_permille;
    uint8_t in_force; /* index into plans */
    uint8_t legs_to_load; /* 0: no plan is loading */
    uint8_t back_to; /* state where the move under way began, or BACK_TO_NONE: winding */
    uint8_t stop_leg;
    bool begun; /* this wind was started by a plan */
    bool referenced;
    bool rest_seen; /* since the newest motion began */
    bool drive_cut; /* on the way to rest */
    uint32_t slow_ms; /* since then it is on its way to rest */
    bool by_move; /* the motion under way is a spindle move */
#if CORE_FAR
    uint8_t far; /* of far.h, under way */
#endif
#endif
};

extern struct board board;

void board_boot(uint32_t now_ms, bool by_watchdog);
void board_look(uint32_t now_ms, bool lease_live);
bool board_in_motion(void);
uint32_t board_uptime_ms(void);
uint8_t board_leg(void); /* index, or PROTOCOL_NO_LEG */

void board_stop(void);
void board_cut(void);
void board_open_wind(uint32_t wind);
void board_close_wind(void);

#if CORE_MOTOR
static inline struct plan *plan_in_force(void) {
    return &board.plans[board.in_force];
}
static inline struct plan *plan_loading(void) {
    return &board.plans[board.in_force ^ 1u];
}
void board_start(void);
void board_set_pace(uint16_t permille);
void board_begin_move(const struct move *move);
void board_begin_traverse_step(int32_t distance_um);
void board_depart(uint8_t happening, uint8_t back_to, bool by_move); /* behind it the body is asked */
void board_mark_traverse(uint8_t side, int32_t at_um);
void board_put_plan_in_force(void);
void board_clear_trip(void);
#endif

#endif
